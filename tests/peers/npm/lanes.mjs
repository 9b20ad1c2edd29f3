// Runs a check over many texts on one thread for each processor, and tells what was found in their order.
import os from 'node:os';
import { parentPort, Worker } from 'node:worker_threads';

// In a lane: answers each group of rows with what the check says of each row.
export function answer(check) {
  parentPort.on('message', ({ id, rows }) => parentPort.postMessage({ id, results: rows.map(check) }));
}

// Gives groups of rows to lanes that run the script, and calls tell(row, result) for each row in order.
export function inLanes(script, groups, tell) {
  const width = Number(process.env.FOOTBRIDGE_LANES ?? os.availableParallelism());
  const waiting = new Map();
  let given = 0;
  let told = 0;
  return new Promise((resolve, reject) => {
    const lanes = Array.from({ length: width }, () => new Worker(new URL(script)));
    let idle = 0;
    const next = (lane) => {
      const { value: rows, done } = groups.next();
      if (!done) {
        waiting.set(given, { rows });
        lane.postMessage({ id: given++, rows });
        return;
      }
      lane.terminate();
      if (++idle === width) resolve();
    };
    const take = (lane, { id, results }) => {
      waiting.get(id).results = results;
      for (; waiting.get(told)?.results; told++) {
        const { rows, results: found } = waiting.get(told);
        rows.forEach((row, i) => tell(row, found[i]));
        waiting.delete(told);
      }
      next(lane);
    };
    for (const lane of lanes) {
      lane.on('message', (message) => take(lane, message));
      lane.on('error', reject);
      next(lane);
    }
  });
}
