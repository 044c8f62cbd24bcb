/**
 * A USB webcam without the hardware: the far end of the kernel's USB/IP port, for the stock driver `uvcvideo`. On a thread of
 * its own, since the program under test stands still while the kernel asks the device.
 *
 * USB/IP as in the kernel's Documentation/usb/usbip_protocol.rst; descriptors and requests as in the Universal Serial Bus
 * 2.0 specification (chapter 9) and the USB Device Class Definition for Video Devices 1.1 with its payload of MJPEG; all
 * from memory, and judged by the stock drivers that have to make sense of it.
 */
import { writeFileSync } from 'node:fs';
import { Socket } from 'node:net';
import { parentPort, workerData } from 'node:worker_threads';
import koffi from 'koffi';
import { product, type UsbWebcamSetup } from './usb-webcam.ts';

const { widthPx, heightPx, framesPerSecond, jpegs } = workerData as UsbWebcamSetup;

const u16 = (value: number) => [value & 255, value >> 8];
const u32 = (value: number) => [...u16(value & 0xffff), ...u16(value >>> 16)];
const described = (type: number, ...bytes: number[]) => [bytes.length + 2, type, ...bytes];
const intervalTicks = 1e7 / framesPerSecond;
const largestFrameBytes = Math.max(...jpegs.map(({ length }) => length)) + 1024;
/** What the driver asks for at a time, so that one request takes one payload. */
const payloadBytes = 16_384;
const headerBytes = 2;

const deviceDescriptor = described(
  1,
  ...u16(0x200),
  0xef,
  2,
  1,
  64,
  ...u16(0x1d6b),
  ...u16(0x0102),
  ...u16(1),
  0,
  1,
  0,
  1,
);
const formats = [
  ...described(0x24, 6, 1, 1, 1, 1, 0, 0, 0, 0),
  ...described(
    0x24,
    ...[7, 1, 0, ...u16(widthPx), ...u16(heightPx)],
    ...[...u32(largestFrameBytes * 8), ...u32(largestFrameBytes * 8 * framesPerSecond), ...u32(largestFrameBytes)],
    ...[...u32(intervalTicks), 1, ...u32(intervalTicks)],
  ),
];
const cameraTerminal = described(0x24, 2, 1, ...u16(0x0201), 0, 0, ...u16(0), ...u16(0), ...u16(0), 3, 0, 0, 0);
const outputTerminal = described(0x24, 3, 2, ...u16(0x0101), 0, 1, 0);
const controlBytes = 13 + cameraTerminal.length + outputTerminal.length;
const interfaces = [
  ...described(0x0b, 0, 2, 0x0e, 3, 0, 0),
  ...described(4, 0, 0, 0, 0x0e, 1, 0, 0),
  ...described(0x24, 1, ...u16(0x0110), ...u16(controlBytes), ...u32(6_000_000), 1, 1),
  ...cameraTerminal,
  ...outputTerminal,
  ...described(4, 1, 0, 1, 0x0e, 2, 0, 0),
  ...described(0x24, 1, 1, ...u16(14 + formats.length), 0x81, 0, 2, 0, 0, 0, 1, 0),
  ...formats,
  ...described(5, 0x81, 2, ...u16(512), 0),
];
const configuration = [...described(2, ...u16(9 + interfaces.length), 2, 1, 0, 0x80, 250), ...interfaces];
const descriptors: Record<number, number[]> = {
  256: deviceDescriptor,
  512: configuration,
  768: described(3, ...u16(0x0409)),
  769: described(3, ...[...product].flatMap(letter => u16(letter.charCodeAt(0)))),
};
/** What is agreed on by probe and commit. */
const agreed = [
  ...[...u16(0), 1, 1, ...u32(intervalTicks), ...u16(0), ...u16(0), ...u16(0), ...u16(0), ...u16(0)],
  ...[...u32(largestFrameBytes), ...u32(payloadBytes), ...u32(6_000_000), 0, 0, 0, 0],
];

const stall = -32;
const unlinked = -104;
/** Data for a question, nothing for an order that is obeyed, null for what this device doesn't know. */
const answerTo = (setup: Uint8Array): number[] | null => {
  const [type, request] = setup;
  const value = setup[2] | (setup[3] << 8);
  if (type === 0x80 && request === 6) return descriptors[value] ?? null;
  if ((type & 0xe0) === 0x80) return [0, 0];
  if ((type & 0xe0) === 0) return [];
  const control = value >> 8;
  if (setup[4] !== 1 || control < 1 || control > 2) return null;
  return type === 0xa1 ? agreed : [];
};

/** One plugging in. */
const connect = (fd: number) => {
  const socket = new Socket({ fd });
  let heard = Buffer.alloc(0);
  let waiting: number[] = [];
  let payloads: Uint8Array[] = [];
  let frameCount = 0;

  const send = (command: number, seqnum: number, status: number, data: Uint8Array, actualBytes = data.length) => {
    const header = Buffer.alloc(48);
    header.writeInt32BE(command, 0);
    header.writeUInt32BE(seqnum, 4);
    header.writeInt32BE(status, 20);
    if (command === 3) header.writeInt32BE(actualBytes, 24);
    socket.write(Buffer.concat([header, data]));
  };
  const pump = () => {
    while (waiting.length > 0 && payloads.length > 0) send(3, waiting.shift()!, 0, payloads.shift()!);
  };
  const nothing = new Uint8Array(0);
  const take = (message: Buffer, data: Buffer) => {
    const seqnum = message.readUInt32BE(4);
    if (message.readInt32BE(0) === 2) {
      const which = message.readUInt32BE(20);
      const there = waiting.includes(which);
      waiting = waiting.filter(one => one !== which);
      if (waiting.length === 0) payloads = [];
      send(4, seqnum, there ? unlinked : 0, nothing);
      return;
    }
    if (message.readInt32BE(16) === 1) {
      waiting.push(seqnum);
      pump();
      return;
    }
    const answer = answerTo(message.subarray(40, 48));
    if (answer === null) send(3, seqnum, stall, nothing);
    else if (message.readInt32BE(12) === 0) send(3, seqnum, 0, nothing, data.length);
    else send(3, seqnum, 0, Uint8Array.from(answer.slice(0, message.readInt32BE(24))));
  };
  socket.on('data', bytes => {
    heard = Buffer.concat([heard, bytes]);
    while (heard.length >= 48) {
      const isOut = heard.readInt32BE(0) === 1 && heard.readInt32BE(12) === 0;
      const end = 48 + (isOut ? heard.readInt32BE(24) : 0);
      if (heard.length < end) return;
      take(heard.subarray(0, 48), heard.subarray(48, end));
      heard = heard.subarray(end);
    }
  });
  socket.on('error', () => {});
  const frame = () => {
    // A device that isn't asked has nowhere to put it.
    if (waiting.length === 0 || payloads.length > 0) return;
    frameCount++;
    const whole = jpegs[frameCount % jpegs.length];
    // Spoilt ones are cut short, or marked as erroneous by the device, in turn.
    const jpeg = spoilt && frameCount % 2 === 0 ? whole.subarray(0, whole.length / 2) : whole;
    const marks = 0x80 | (frameCount & 1) | (spoilt && frameCount % 2 === 1 ? 0x40 : 0);
    const room = payloadBytes - headerBytes;
    for (let at = 0; at < jpeg.length; at += room) {
      const last = at + room >= jpeg.length;
      payloads.push(Uint8Array.from([headerBytes, marks | (last ? 2 : 0), ...jpeg.subarray(at, at + room)]));
    }
    pump();
  };
  const timer = setInterval(frame, 1000 / framesPerSecond);
  return () => {
    clearInterval(timer);
    socket.destroy();
  };
};

const libc = koffi.load(null);
const socketpair = libc.func('int socketpair(int, int, int, _Out_ int *)');
const closeFd = libc.func('int close(int)');
const port = '/sys/devices/platform/vhci_hcd.0/attach';
const highSpeed = 3;
let spoilt = false;
let wanted = false;
let disconnect: (() => void) | null = null;

const plug = () => {
  if (disconnect || !wanted) return;
  const ends = [0, 0];
  if (socketpair(1, 1, 0, ends) !== 0) throw new Error('socketpair');
  try {
    writeFileSync(port, `0 ${ends[0]} ${0x1_0002} ${highSpeed}`);
    disconnect = connect(ends[1]);
  } catch {
    // The port is still being let go of.
    closeFd(ends[1]);
    setTimeout(plug, 100);
  }
  // The kernel has it of its own.
  closeFd(ends[0]);
};
parentPort?.on('message', (what: 'plug' | 'unplug' | 'spoil' | 'mend') => {
  wanted = what === 'plug' || (wanted && what !== 'unplug');
  if (what === 'plug') plug();
  if (what === 'unplug') {
    disconnect?.();
    disconnect = null;
  }
  if (what === 'spoil' || what === 'mend') spoilt = what === 'spoil';
});
