// Runs an image under Node: what it puts goes to the output, its exit code is the process's.
import { readFileSync, writeSync } from 'node:fs';

const bytes = [];
const flush = () => writeSync(1, Buffer.from(bytes.splice(0)));

const board = {
  put(byte) {
    bytes.push(byte);
    if (byte === 10) flush();
  },
  exit(code) {
    flush();
    process.exit(code);
  },
};

const image = new WebAssembly.Module(readFileSync(process.argv[2]));
new WebAssembly.Instance(image, { board }).exports.reset();
