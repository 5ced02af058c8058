-- Gives the lease up, if it is still the caller's, so that another writer need not wait for its end.
--
-- KEYS: the state (a hash). ARGV: the epoch.
if redis.call('HGET', KEYS[1], 'epoch') ~= ARGV[1] then
  return 0
end
redis.call('HSET', KEYS[1], 'until', '0')
return 1
