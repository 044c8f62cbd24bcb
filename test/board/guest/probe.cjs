// In the place of the program, under the confinement of its service: what can be written, opened and reached from there.
const fs = require('node:fs');
const net = require('node:net');
const dgram = require('node:dgram');

const codeOf = act => {
  try {
    act();
    return 'done';
  } catch (error) {
    return error.code;
  }
};
const canWrite = folder => codeOf(() => fs.writeFileSync(`${folder}/probe`, '')) === 'done';
const state = '/var/lib/slipshutter';
const folders =
  '/ /etc /etc/slipshutter /usr/local/bin /home /root /var /var/log /state /out /run /dev /sys /proc/sys /boot /srv/open /tmp /var/tmp';
const devices = '/dev/gpiochip0 /dev/video0 /dev/ttyS1 /dev/vda /dev/vdb /dev/mem /dev/kmsg /dev/tty0';

const found = {
  writes: [...folders.split(' '), state, '/var/cache/slipshutter'].filter(canWrite),
  devices: Object.fromEntries(
    devices.split(' ').map(path => [path, codeOf(() => fs.closeSync(fs.openSync(path, 'r+')))]),
  ),
  interfaces: fs.readFileSync('/proc/self/net/dev', 'utf8').match(/[a-z0-9]+(?=:)/g),
};
const say = () => {
  fs.rmSync(`${state}/probe`);
  fs.writeFileSync(`${state}/probe.json`, JSON.stringify(found));
  process.exit(0);
};
const tryUdp = () => {
  const done = udp => {
    found.udp = udp;
    say();
  };
  try {
    const socket = dgram.createSocket('udp4');
    socket.on('error', error => done(error.code));
    socket.bind(0, () => done('bound'));
  } catch (error) {
    done(error.code);
  }
};
const tcp = net.connect(22, '127.0.0.1');
const tried = outcome => {
  found.tcp = outcome;
  tryUdp();
};
tcp.on('connect', () => tried('connected'));
tcp.on('error', error => tried(error.code));
