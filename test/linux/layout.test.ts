import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { describe, expect, it } from 'vitest';
import * as gpio from '../../src/linux/gpio/uapi.ts';
import { ilp32, ilp32Time64, ioctl, type Layout, layoutsFor, lp64, sizes } from '../../src/linux/v4l2/layout.ts';
import * as uapi from '../../src/linux/v4l2/uapi.ts';

const hex = (value: number) => value.toString(16).toUpperCase().padStart(8, '0');
const ioctlsOf = ({ ioctl: { setFormat, queryBuffer, queue, dequeue } }: Layout) =>
  [setFormat, queryBuffer, queue, dequeue].map(hex);

describe('structure layouts', () => {
  // Calculated from linux/videodev2.h for x86-64, armhf, and armhf with 64-bit time.
  it.each([
    { layout: lp64, sizes: [208, 8, 88, 24, 64, 72], ioctls: ['C0D05605', 'C0585609', 'C058560F', 'C0585611'] },
    { layout: ilp32, sizes: [204, 4, 68, 20, 52, 56], ioctls: ['C0CC5605', 'C0445609', 'C044560F', 'C0445611'] },
    { layout: ilp32Time64, sizes: [204, 4, 80, 24, 64, 68], ioctls: ['C0CC5605', 'C0505609', 'C050560F', 'C0505611'] },
  ])('of V4L2 on $layout.name are as calculated', ({ layout, sizes: wanted, ioctls }) => {
    const { formatBytes, formatAt, bufferBytes, timestampAt, offsetAt, lengthAt } = layout;
    expect([formatBytes, formatAt, bufferBytes, timestampAt, offsetAt, lengthAt]).toEqual(wanted);
    expect(ioctlsOf(layout)).toEqual(ioctls);
  });

  it('of V4L2 that have no pointers and no time are the same everywhere', () => {
    expect([sizes.capability, sizes.requestBuffers, sizes.streamParameters]).toEqual([104, 20, 204]);
    const numbers = [ioctl.capability, ioctl.requestBuffers, ioctl.streamOn, ioctl.streamOff].map(hex);
    expect(numbers).toEqual(['80685600', 'C0145608', '40045612', '40045613']);
    expect(['YUYV', 'MJPG'].map(name => hex(uapi.fourcc(name)))).toEqual(['56595559', '47504A4D']);
  });

  // Read in linux/gpio.h: line request 592 bytes, ioctl C250B407, event 48 bytes.
  it('of GPIO are as read in the kernel’s header', () => {
    expect(hex(gpio.requestIoctl)).toBe('C250B407');
    expect(gpio.eventBytes).toBe(48);
    const request = gpio.inputRequest(17, { activeLow: true, pull: 'up', debounceUs: 1500, use: 'button' });
    const view = new DataView(request.buffer);
    expect(request).toHaveLength(592);
    expect(view.getUint32(0, true)).toBe(17);
    expect(new TextDecoder().decode(request.subarray(256, 274))).toBe('slipshutter button');
    // Active low (bit 1), input (2), rising (4), falling (5), pull-up (8).
    expect(view.getBigUint64(288, true)).toBe(0b1_0011_0110n);
    expect(view.getUint32(296, true)).toBe(1);
    // One attribute: id 3 is the debounce period, for line 0 of the request.
    expect([view.getUint32(320, true), view.getUint32(328, true), view.getUint32(336, true)]).toEqual([3, 1500, 1]);
    expect(view.getUint32(560, true)).toBe(1);
  });

  it('a 32-bit ARM board is tried with 64-bit time first', () => {
    expect(layoutsFor('arm').map(({ name }) => name)).toEqual(['ilp32-time64', 'ilp32']);
    expect(layoutsFor('arm64').map(({ name }) => name)).toEqual(['lp64']);
  });

  it.each([lp64, ilp32, ilp32Time64])('a buffer reads back on $name', layout => {
    const bytes = uapi.bufferOf(layout, 3);
    const view = new DataView(bytes.buffer);
    const time = (at: number, value: number) =>
      layout.timeBytes === 8 ? view.setBigInt64(at, BigInt(value), true) : view.setInt32(at, value, true);
    view.setUint32(8, 1234, true);
    view.setUint32(12, 0x12000 | 0x40, true);
    time(layout.timestampAt, 17);
    time(layout.timestampAt + layout.timeBytes, 250_000);
    view.setUint32(layout.sequenceAt, 99, true);
    view.setUint32(layout.offsetAt, 0x5000, true);
    view.setUint32(layout.lengthAt, 4096, true);
    expect(view.getUint32(layout.memoryAt, true)).toBe(1);
    expect(uapi.readBuffer(layout, bytes)).toEqual({
      index: 3,
      bytesUsed: 1234,
      damaged: true,
      stampedAtStart: true,
      monotonic: true,
      stampUs: 17_250_000,
      sequence: 99,
      offset: 0x5000,
      lengthBytes: 4096,
    });
  });
});

const headers = ['/usr/include/linux/videodev2.h', '/usr/include/linux/gpio.h', '/usr/bin/gcc'];
const missing = headers.filter(file => !existsSync(file));

describe.skipIf(missing.length > 0 || process.arch !== 'x64')(
  `against the kernel's own headers${missing.length > 0 ? ` (not here: ${missing.join(', ')})` : ''}`,
  () => {
    const compiled = (expressions: string[]): number[] => {
      const folder = mkdtempSync(`${tmpdir()}/layout-`);
      try {
        const lines = expressions.map(expression => `printf("%llu\\n", (unsigned long long)(${expression}));`);
        const source = `#include <stdio.h>\n#include <stddef.h>\n#include <linux/videodev2.h>\n#include <linux/gpio.h>\nint main(void) { ${lines.join('\n')} return 0; }\n`;
        writeFileSync(`${folder}/layout.c`, source);
        execFileSync('gcc', ['-o', `${folder}/layout`, `${folder}/layout.c`]);
        return execFileSync(`${folder}/layout`, { encoding: 'utf8' }).trim().split('\n').map(Number);
      } finally {
        rmSync(folder, { recursive: true });
      }
    };

    it('V4L2', () => {
      const b = 'struct v4l2_buffer';
      const wanted: [string, number][] = [
        ['sizeof(struct v4l2_format)', lp64.formatBytes],
        ['offsetof(struct v4l2_format, fmt)', lp64.formatAt],
        [`sizeof(${b})`, lp64.bufferBytes],
        [`offsetof(${b}, timestamp)`, lp64.timestampAt],
        [`offsetof(${b}, sequence)`, lp64.sequenceAt],
        [`offsetof(${b}, memory)`, lp64.memoryAt],
        [`offsetof(${b}, m)`, lp64.offsetAt],
        [`offsetof(${b}, length)`, lp64.lengthAt],
        ['VIDIOC_G_FMT', lp64.ioctl.getFormat],
        ['VIDIOC_S_FMT', lp64.ioctl.setFormat],
        ['VIDIOC_QUERYBUF', lp64.ioctl.queryBuffer],
        ['VIDIOC_QBUF', lp64.ioctl.queue],
        ['VIDIOC_DQBUF', lp64.ioctl.dequeue],
        ['VIDIOC_QUERYCAP', ioctl.capability],
        ['VIDIOC_ENUM_FMT', ioctl.enumerateFormats],
        ['VIDIOC_ENUM_FRAMESIZES', ioctl.enumerateSizes],
        ['VIDIOC_ENUM_FRAMEINTERVALS', ioctl.enumerateIntervals],
        ['VIDIOC_REQBUFS', ioctl.requestBuffers],
        ['VIDIOC_STREAMON', ioctl.streamOn],
        ['VIDIOC_STREAMOFF', ioctl.streamOff],
        ['VIDIOC_S_PARM', ioctl.setParameters],
        ['VIDIOC_G_PARM', ioctl.getParameters],
        ['VIDIOC_G_CTRL', ioctl.getControl],
        ['VIDIOC_S_CTRL', ioctl.setControl],
        ['VIDIOC_QUERYCTRL', ioctl.queryControl],
        ['offsetof(struct v4l2_pix_format, bytesperline)', 16],
        ['offsetof(struct v4l2_pix_format, colorspace)', 24],
        ['offsetof(struct v4l2_pix_format, quantization)', 40],
        ['offsetof(struct v4l2_fmtdesc, pixelformat)', 44],
        ['offsetof(struct v4l2_frmsizeenum, discrete)', 12],
        ['offsetof(struct v4l2_frmivalenum, discrete)', 20],
        ['offsetof(struct v4l2_streamparm, parm.capture.timeperframe)', 12],
        ['offsetof(struct v4l2_queryctrl, minimum)', 40],
        ['offsetof(struct v4l2_queryctrl, flags)', 56],
        ['offsetof(struct v4l2_capability, device_caps)', 88],
        ['V4L2_BUF_FLAG_ERROR | V4L2_BUF_FLAG_TIMESTAMP_MONOTONIC | V4L2_BUF_FLAG_TSTAMP_SRC_SOE', 0x12040],
        ['V4L2_COLORSPACE_JPEG', 7],
        ['V4L2_CID_EXPOSURE_ABSOLUTE', 0x9a0902],
        ['V4L2_CID_FOCUS_ABSOLUTE', 0x9a090a],
        ['V4L2_CID_POWER_LINE_FREQUENCY', 0x980918],
      ];
      expect(compiled(wanted.map(([expression]) => expression))).toEqual(wanted.map(([, value]) => value));
    });

    it('GPIO', () => {
      const wanted: [string, number][] = [
        ['GPIO_GET_CHIPINFO_IOCTL', gpio.chipInfoIoctl],
        ['GPIO_V2_GET_LINEINFO_IOCTL', gpio.lineInfoIoctl],
        ['GPIO_V2_GET_LINE_IOCTL', gpio.requestIoctl],
        ['GPIO_V2_LINE_GET_VALUES_IOCTL', gpio.getValuesIoctl],
        ['GPIO_V2_LINE_SET_VALUES_IOCTL', gpio.setValuesIoctl],
        ['sizeof(struct gpio_v2_line_event)', gpio.eventBytes],
        ['offsetof(struct gpio_v2_line_request, consumer)', 256],
        ['offsetof(struct gpio_v2_line_request, config)', 288],
        ['offsetof(struct gpio_v2_line_request, config.attrs)', 320],
        ['offsetof(struct gpio_v2_line_request, num_lines)', 560],
        ['offsetof(struct gpio_v2_line_request, event_buffer_size)', 564],
        ['offsetof(struct gpio_v2_line_request, fd)', 588],
        ['offsetof(struct gpio_v2_line_info, flags)', 72],
        ['offsetof(struct gpio_v2_line_event, line_seqno)', 20],
        ['GPIO_V2_LINE_FLAG_BIAS_DISABLED', 1 << 10],
        ['GPIO_V2_LINE_ATTR_ID_DEBOUNCE', 3],
      ];
      expect(compiled(wanted.map(([expression]) => expression))).toEqual(wanted.map(([, value]) => value));
    });
  },
);
