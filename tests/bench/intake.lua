-- Requests for wrk: assessments that differ in their identifier and in that of the patient. The body
-- comes from the file named by BODY, in which @ID@ stands for both.
local pieces = {}
for piece in (io.open(os.getenv("BODY")):read("*a") .. "@ID@"):gmatch("(.-)@ID@") do
  pieces[#pieces + 1] = piece
end
local run = os.getenv("RUN") or "r"
local count = 0
local threads = 0

function setup(thread)
  thread:set("number", threads)
  threads = threads + 1
end

function request()
  count = count + 1
  local id = run .. "-" .. number .. "-" .. count
  return wrk.format("POST", "/assessments", {["Content-Type"] = "application/json"}, table.concat(pieces, id))
end

local bad = 0
function response(status)
  if status ~= 201 then bad = bad + 1 end
end

function done(summary, latency)
  io.write(string.format("RESULT %d %d %d %d %d\n", summary.requests, summary.duration,
    latency:percentile(50), latency:percentile(99),
    summary.errors.status + summary.errors.read + summary.errors.write + summary.errors.timeout + summary.errors.connect))
end
