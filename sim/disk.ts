import type { Chance } from './random.ts';

/**
 * What a disk keeps when the power goes. A file's bytes are safe once the file was synced; a name in a folder is safe
 * once the folder was synced. What wasn't may be there, not there, or torn. Names change in the order they were changed.
 */
export interface DiskModel {
  /** Creates the file or replaces its bytes. */
  write(path: string, bytes: Uint8Array): void;
  append(path: string, bytes: Uint8Array): void;
  truncate(path: string, length: number): void;
  /** Bytes as they are now, not necessarily safe. */
  read(path: string): Uint8Array;
  sync(path: string): void;
  syncFolder(path: string): void;
  rename(from: string, to: string): void;
  remove(path: string): void;
  makeFolder(path: string): void;
  list(path: string): string[];
  exists(path: string): boolean;
  isFolder(path: string): boolean;
  freeBytes(): number;
  /** The power goes: what wasn't synced is drawn by lot. */
  powerCut(luck: Chance): void;
  capacity(bytes: number): void;
  readOnly(on: boolean): void;
  /** Flips a bit or drops a tail of a safe file: a disk that lies. */
  damage(path: string, how: 'bit' | 'tail' | 'gone', luck: Chance): void;
}

interface FileNode {
  safe: Uint8Array;
  bytes: Uint8Array;
  length: number;
  /** Bytes below this place are as they are in `safe`. */
  sameUntil: number;
  dirty: boolean;
}
interface FolderNode {
  safe: Map<string, Node>;
  names: Map<string, Node>;
  /** Changes of names since the last sync, in order. */
  changes: ((names: Map<string, Node>) => void)[];
}
type Node = FileNode | FolderNode;

export class DiskError extends Error {
  readonly code: 'ENOENT' | 'ENOSPC' | 'EROFS' | 'EISDIR' | 'ENOTDIR' | 'EEXIST' | 'EIO';
  constructor(code: DiskError['code'], path: string) {
    super(`${code}: ${path}`);
    this.code = code;
  }
}

const isFolder = (node: Node): node is FolderNode => 'names' in node;
const newFolder = (): FolderNode => ({ safe: new Map(), names: new Map(), changes: [] });
const blockBytes = 4096;

export const createDiskModel = (capacityBytes = 4_000_000_000): DiskModel => {
  const root = newFolder();
  let capacity = capacityBytes;
  let readOnly = false;
  let usedBytes = 0;

  const partsOf = (path: string) => path.split('/').filter(part => part !== '' && part !== '.');
  const find = (path: string): Node | undefined => {
    let node: Node | undefined = root;
    for (const part of partsOf(path)) node = node && isFolder(node) ? node.names.get(part) : undefined;
    return node;
  };
  const folderOf = (path: string): { folder: FolderNode; name: string } => {
    const parts = partsOf(path);
    const name = parts.pop() ?? '';
    const folder = find(parts.join('/'));
    if (!folder) throw new DiskError('ENOENT', path);
    if (!isFolder(folder)) throw new DiskError('ENOTDIR', path);
    return { folder, name };
  };
  const fileAt = (path: string): FileNode => {
    const node = find(path);
    if (!node) throw new DiskError('ENOENT', path);
    if (isFolder(node)) throw new DiskError('EISDIR', path);
    return node;
  };
  const change = (folder: FolderNode, apply: (names: Map<string, Node>) => void) => {
    apply(folder.names);
    folder.changes.push(apply);
  };
  const writable = (path: string) => {
    if (readOnly) throw new DiskError('EROFS', path);
  };
  const resize = (file: FileNode, length: number) => {
    usedBytes += length - file.length;
    if (length > file.bytes.length) {
      const larger = new Uint8Array(Math.max(length, Math.min(file.bytes.length * 2, length + 1_000_000)));
      larger.set(file.bytes.subarray(0, file.length));
      file.bytes = larger;
    }
    file.length = length;
  };
  const put = (path: string, file: FileNode, at: number, bytes: Uint8Array) => {
    // A full disk takes what fits before it says so.
    const room = Math.max(0, capacity - usedBytes - Math.max(0, at - file.length));
    const fits = Math.min(bytes.length, room + Math.max(0, file.length - at));
    file.sameUntil = Math.min(file.sameUntil, at);
    file.dirty = true;
    resize(file, Math.max(file.length, at + fits));
    file.bytes.set(bytes.subarray(0, fits), at);
    if (fits < bytes.length) throw new DiskError('ENOSPC', path);
  };
  const touch = (path: string): FileNode => {
    const there = find(path);
    if (there) return fileAt(path);
    const { folder, name } = folderOf(path);
    const file: FileNode = {
      safe: new Uint8Array(0),
      bytes: new Uint8Array(0),
      length: 0,
      sameUntil: 0,
      dirty: false,
    };
    change(folder, names => void names.set(name, file));
    return file;
  };

  /** What is left of an unsynced file: old bytes, new bytes, or a part of the new ones; lost blocks read as zeros. */
  const torn = (file: FileNode, luck: Chance): Uint8Array => {
    const now = file.bytes.slice(0, file.length);
    switch (luck.whole(0, 3)) {
      case 0:
        return file.safe;
      case 1:
        return now;
      default: {
        const kept = luck.whole(file.sameUntil, Math.max(file.sameUntil, now.length));
        const left = now.slice(0, luck.hit(0.5) ? kept : now.length);
        // Length known, block never written.
        if (left.length > kept) left.fill(0, luck.hit(0.5) ? kept : Math.ceil(kept / blockBytes) * blockBytes);
        return left;
      }
    }
  };
  const cut = (folder: FolderNode, luck: Chance) => {
    const names = new Map(folder.safe);
    const survived = luck.whole(0, folder.changes.length);
    for (const apply of folder.changes.slice(0, survived)) apply(names);
    folder.names = names;
    folder.safe = new Map(names);
    folder.changes = [];
    for (const node of names.values()) {
      if (isFolder(node)) cut(node, luck);
      else {
        if (node.dirty) node.safe = torn(node, luck);
        node.bytes = node.safe.slice();
        node.length = node.safe.length;
        node.sameUntil = node.length;
        node.dirty = false;
        usedBytes += node.length;
      }
    }
  };

  return {
    write(path, bytes) {
      writable(path);
      const file = touch(path);
      file.sameUntil = 0;
      resize(file, 0);
      put(path, file, 0, bytes);
    },
    append(path, bytes) {
      writable(path);
      const file = touch(path);
      put(path, file, file.length, bytes);
    },
    truncate(path, length) {
      writable(path);
      const file = fileAt(path);
      file.sameUntil = Math.min(file.sameUntil, length);
      file.dirty = true;
      resize(file, Math.min(length, file.length));
    },
    read: path => {
      const file = fileAt(path);
      return file.bytes.slice(0, file.length);
    },
    sync(path) {
      const file = fileAt(path);
      if (!file.dirty) return;
      file.safe = file.bytes.slice(0, file.length);
      file.sameUntil = file.length;
      file.dirty = false;
    },
    syncFolder(path) {
      const node = find(path);
      if (!node) throw new DiskError('ENOENT', path);
      if (!isFolder(node)) throw new DiskError('ENOTDIR', path);
      node.safe = new Map(node.names);
      node.changes = [];
    },
    rename(from, to) {
      writable(to);
      const node = find(from);
      if (!node) throw new DiskError('ENOENT', from);
      const source = folderOf(from);
      const target = folderOf(to);
      const replaced = target.folder.names.get(target.name);
      if (replaced && !isFolder(replaced) && replaced !== node) usedBytes -= replaced.length;
      if (source.folder === target.folder) {
        change(source.folder, names => {
          names.delete(source.name);
          names.set(target.name, node);
        });
      } else {
        change(target.folder, names => void names.set(target.name, node));
        change(source.folder, names => void names.delete(source.name));
      }
    },
    remove(path) {
      writable(path);
      const node = find(path);
      if (!node) throw new DiskError('ENOENT', path);
      const { folder, name } = folderOf(path);
      if (!isFolder(node)) usedBytes -= node.length;
      change(folder, names => void names.delete(name));
    },
    makeFolder(path) {
      writable(path);
      if (find(path)) throw new DiskError('EEXIST', path);
      const { folder, name } = folderOf(path);
      const made = newFolder();
      change(folder, names => void names.set(name, made));
    },
    list(path) {
      const node = find(path);
      if (!node) throw new DiskError('ENOENT', path);
      if (!isFolder(node)) throw new DiskError('ENOTDIR', path);
      return [...node.names.keys()];
    },
    exists: path => find(path) !== undefined,
    isFolder: path => {
      const node = find(path);
      return node !== undefined && isFolder(node);
    },
    freeBytes: () => Math.max(0, capacity - usedBytes),
    powerCut(luck) {
      usedBytes = 0;
      cut(root, luck);
    },
    capacity(bytes) {
      capacity = bytes;
    },
    readOnly(on) {
      readOnly = on;
    },
    damage(path, how, luck) {
      const file = fileAt(path);
      if (how === 'gone') {
        const { folder, name } = folderOf(path);
        folder.names.delete(name);
        folder.safe.delete(name);
        usedBytes -= file.length;
        return;
      }
      if (file.length === 0) return;
      if (how === 'bit') {
        const at = luck.whole(0, file.length - 1);
        file.bytes[at] ^= 1 << luck.whole(0, 7);
      } else resize(file, luck.whole(0, file.length - 1));
      file.safe = file.bytes.slice(0, file.length);
    },
  };
};
