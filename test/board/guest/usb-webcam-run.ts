/** Plugs in a USB webcam that shows eight bars, and leaves it there: usage: node usb-webcam-run.mjs WIDTH HEIGHT RATE */
import { barsAsJpeg, createUsbWebcam, usbWebcamDevice } from './usb-webcam.ts';

const [widthPx, heightPx, framesPerSecond] = process.argv.slice(2).map(Number);
const webcam = createUsbWebcam({ widthPx, heightPx, framesPerSecond, jpegs: [barsAsJpeg(widthPx, heightPx, true)] });
webcam.plug();
await webcam.untilThere();
console.log(usbWebcamDevice);
