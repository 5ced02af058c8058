-- Takes the lease under the next epoch, unless another writer holds it.
--
-- KEYS: the state (a hash). ARGV: who takes it, the lease in ms, the chain before the first line, the
-- last epoch that the caller has seen: a server that lost its newest writes must not give the same epoch twice.
-- Only this server's clock counts (TIME), so the clocks of the machines need not agree.
local now = redis.call('TIME')
local now_ms = now[1] * 1000 + math.floor(now[2] / 1000)
local state = redis.call('HMGET', KEYS[1], 'epoch', 'owner', 'until')
local left_ms = tonumber(state[3] or '0') - now_ms
if state[2] and state[2] ~= ARGV[1] and left_ms > 0 then
  return {'held', state[1], state[2], string.format('%.0f', left_ms)}
end
local epoch = string.format('%.0f', math.max(tonumber(state[1] or '0'), tonumber(ARGV[4])) + 1)
redis.call('HSETNX', KEYS[1], 'last', '0')
redis.call('HSETNX', KEYS[1], 'head', ARGV[3])
redis.call('HSET', KEYS[1], 'epoch', epoch, 'owner', ARGV[1], 'until', string.format('%.0f', now_ms + ARGV[2]))
return {'taken', epoch}
