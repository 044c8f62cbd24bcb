import { read } from 'node:fs';

/** What `serialport` reads by on a system with file descriptors. */
interface PortBinding {
  fd: number | null;
  poller: { once(event: 'readable', act: (error: Error | null) => void): unknown };
  read(buffer: Buffer, offset: number, length: number): Promise<{ buffer: Buffer; bytesRead: number }>;
}
interface OpenPort {
  /** Set once the port is open. */
  port?: unknown;
  once(event: 'open', act: () => void): unknown;
}

const readOnce = (fd: number, buffer: Buffer, offset: number, length: number): Promise<number> =>
  new Promise((resolve, reject) => {
    read(fd, buffer, offset, length, null, (error, bytesRead) => (error ? reject(error) : resolve(bytesRead)));
  });

/**
 * Lets a port of `serialport` notice that it was unplugged while it was being read. A terminal that hung up gives no
 * bytes for ever, instead of an error; the package (bindings-cpp 13.0.0) then reads again and again, keeps a core busy
 * and never says that the port is gone. Call it before anybody listens for data.
 */
export const noticeHangup = <P extends OpenPort>(port: P): P => {
  port.once('open', () => {
    const binding = port.port as PortBinding | undefined;
    if (!binding?.poller) return;
    const readable = () =>
      new Promise<void>((resolve, reject) => {
        binding.poller.once('readable', error => (error ? reject(error) : resolve()));
      });
    binding.read = async (buffer, offset, length) => {
      while (binding.fd !== null) {
        try {
          const bytesRead = await readOnce(binding.fd, buffer, offset, length);
          if (bytesRead > 0) return { buffer, bytesRead };
          throw new Error('the port hung up');
        } catch (error) {
          const { code } = error as NodeJS.ErrnoException;
          if (code !== 'EAGAIN' && code !== 'EWOULDBLOCK' && code !== 'EINTR') throw error;
        }
        if (binding.fd !== null) await readable();
      }
      throw Object.assign(new Error('the port was closed'), { canceled: true });
    };
  });
  return port;
};
