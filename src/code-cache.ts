import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import { Instance, Memory, Module } from './picture/web-assembly.ts';

/**
 * V8's code cache in a file: a line that says whose it is, how long and which sum it has, then its bytes. V8 takes a cache
 * for what it says and crashes on a damaged one.
 */

const pageBytes = 65_536;
/** V8 copies code that doesn't begin at a whole word. */
const wordBytes = 8;
/** A number for `i64.const`, LEB128 as WebAssembly has it; odd, so that no change of a word is lost. */
const factor = [0x95, 0xd3, 0xee, 0xa9, 0xe5, 0xd6, 0x8a, 0xb9, 0x36];

// (loop (local.set $sum (i64.add (i64.mul (local.get $sum) factor) (i64.load (local.get $at))))
//       (br_if 0 (i32.lt_u (local.tee $at (i32.add (local.get $at) (i32.const 8))) (local.get $end)))) (local.get $sum)
const loop = [
  ...[0x03, 0x40, 0x20, 2, 0x42, ...factor, 0x7e, 0x20, 0, 0x29, 3, 0, 0x7c, 0x21, 2],
  ...[0x20, 0, 0x41, wordBytes, 0x6a, 0x22, 0, 0x20, 1, 0x49, 0x0d, 0, 0x0b, 0x20, 2, 0x0b],
];
const body = [1, 1, 0x7e, ...loop];
const section = (id: number, ...bytes: number[]): number[] => [id, bytes.length, ...bytes];
const summing = [
  ...[0, 0x61, 0x73, 0x6d, 1, 0, 0, 0],
  ...section(1, 1, 0x60, 2, 0x7f, 0x7f, 1, 0x7e),
  ...section(2, 1, 1, 0x6d, 1, 0x6d, 2, 0, 1),
  ...section(3, 1, 0),
  ...section(7, 1, 1, 0x73, 0, 0),
  ...section(10, 1, body.length, ...body),
];

/** Room for so many bytes, and the sum of those from a whole word on. */
const roomFor = (bytes: number) => {
  const memory = new Memory({ initial: Math.ceil((bytes + wordBytes) / pageBytes) });
  const sum = (from: number): string => {
    const { exports } = new Instance(new Module(new Uint8Array(summing)), { m: { m: memory } });
    return BigInt.asUintN(64, (exports as { s(at: number, end: number): bigint }).s(from, bytes)).toString(16);
  };
  return { bytes: Buffer.from(memory.buffer, 0, bytes), sum };
};

/**
 * A sum of the bytes in words of 64 bits: each is added after all before were multiplied, modulo 2⁶⁴. Any damage within
 * a word changes it. Compiled code does that in less time than loading node's CRC-32 takes.
 */
export const sumOf = (code: Uint8Array): string => {
  const { bytes, sum } = roomFor(code.length);
  bytes.set(code);
  return sum(0);
};

const lineOf = (program: string, codeBytes: number, sum: string): string => {
  const line = `${program} ${codeBytes} ${sum}`;
  return `${line.padEnd(Math.ceil((line.length + 1) / wordBytes) * wordBytes - 1)}\n`;
};

export const cacheOf = (program: string, code: Uint8Array): Buffer =>
  Buffer.concat([Buffer.from(lineOf(program, code.length, sumOf(code))), code]);

/** The code out of such a file, if it is there, whole, and of this program; else it is as if there were none. */
export const readCache = (file: string, program: string): Buffer | undefined => {
  let fd: number | null = null;
  try {
    fd = openSync(file, 'r');
    const { bytes, sum } = roomFor(fstatSync(fd).size);
    if (readSync(fd, bytes) !== bytes.length) return undefined;
    const codeAt = bytes.indexOf('\n') + 1;
    if (codeAt % wordBytes !== 0) return undefined;
    const line = lineOf(program, bytes.length - codeAt, sum(codeAt));
    return bytes.toString('latin1', 0, codeAt) === line ? bytes.subarray(codeAt) : undefined;
  } catch {
    return undefined;
  } finally {
    if (fd !== null) closeSync(fd);
  }
};
