-- Keeps what the servers of a competition have together, if the caller is the writer.
--
-- KEYS: the state (a hash); where it is kept: a string, or with a name a hash. ARGV: epoch, value, and for a hash the name
-- in it, whose value stays as it was when there is one.
local epoch = redis.call('HGET', KEYS[1], 'epoch')
if epoch ~= ARGV[1] then
  return {'taken', epoch or '0'}
end
if ARGV[3] then
  redis.call('HSETNX', KEYS[2], ARGV[3], ARGV[2])
else
  redis.call('SET', KEYS[2], ARGV[2])
end
return {'done'}
