-- Appends lines to the stream, all or none, if the caller is the writer and its lines follow those that are there.
--
-- KEYS: the stream, the state (a hash), the watermarks (a hash).
-- ARGV: epoch, number and chain of the last line, the lease in ms; then six for each line: when it was received, sender,
-- sequence, body, "-" or "+" and the refusal, chain. Without lines it only renews the lease.
--
-- Everything is checked before the first write, because a script that ends in an error keeps what it has written
-- (Redis, "Scripting with Lua": scripts run atomically, and are not rolled back). Its writes reach the append-only file
-- and the replicas as one transaction.
local stream, state_key, marks_key = KEYS[1], KEYS[2], KEYS[3]
local state = redis.call('HMGET', state_key, 'epoch', 'last', 'head')
if state[1] ~= ARGV[1] then
  return {'taken', state[1] or '0'}
end
local newest = redis.call('XREVRANGE', stream, '+', '-', 'COUNT', 1)[1]
local there = newest and string.match(newest[1], '^(%d+)-') or '0'
if state[2] ~= ARGV[2] or state[3] ~= ARGV[3] or there ~= ARGV[2] then
  return {'moved', there}
end

local function is_in_stream(sender, sequence)
  local from = '-'
  while true do
    local chunk = redis.call('XRANGE', stream, from, '+', 'COUNT', 500)
    for _, entry in ipairs(chunk) do
      local fields = entry[2]
      -- Fields stand in the order in which they are written below: the sender is the second, the sequence the third.
      if fields[4] == sender and fields[6] == sequence then
        return true
      end
      from = '(' .. entry[1]
    end
    if #chunk < 500 then
      return false
    end
  end
end

local marks, sent = {}, {}
for at = 5, #ARGV, 6 do
  local sender, sequence = ARGV[at + 1], ARGV[at + 2]
  local key, number = sequence .. ' ' .. sender, tonumber(sequence)
  if marks[sender] == nil then
    marks[sender] = redis.call('HGET', marks_key, sender)
  end
  -- Senders count upwards, so the stream is read through only for a number that does not.
  local is_used = marks[sender] and number <= tonumber(marks[sender]) and is_in_stream(sender, sequence)
  if sent[key] or is_used then
    return {'twice', sender, sequence}
  end
  sent[key] = true
end

local last = tonumber(ARGV[2])
for at = 5, #ARGV, 6 do
  last = last + 1
  local sender, sequence, refusal = ARGV[at + 1], ARGV[at + 2], ARGV[at + 4]
  local id = string.format('%.0f-%s', last, ARGV[1])
  local fields = {'received', ARGV[at], 'sender', sender, 'sequence', sequence, 'body', ARGV[at + 3],
    'chain', ARGV[at + 5]}
  if string.sub(refusal, 1, 1) == '+' then
    fields[11], fields[12] = 'refusal', string.sub(refusal, 2)
  end
  redis.call('XADD', stream, id, unpack(fields))
  if not marks[sender] or tonumber(sequence) > tonumber(marks[sender]) then
    marks[sender] = sequence
    redis.call('HSET', marks_key, sender, sequence)
  end
end
local now = redis.call('TIME')
local lease_end = now[1] * 1000 + math.floor(now[2] / 1000) + tonumber(ARGV[4])
redis.call('HSET', state_key, 'until', string.format('%.0f', lease_end))
if #ARGV > 4 then
  redis.call('HSET', state_key, 'last', string.format('%.0f', last), 'head', ARGV[#ARGV])
end
return {'done', string.format('%.0f', last)}
