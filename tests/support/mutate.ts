import { crc32 } from 'node:zlib';

/** A small generator of pseudo-random numbers in [0, 1). Source: mulberry32, public domain (common practice, from memory). */
export function numbers(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

const TELLING = [0, 1, 2, 0x7f, 0x80, 0xfe, 0xff];

/** A file as a bad card, a broken transfer or a hostile hand would leave it; half of the damage is near its beginning. */
export function mutate(bytes: Uint8Array, random: () => number): Uint8Array {
  const below = (n: number): number => Math.floor(random() * n);
  const place = (n: number): number => (random() < 0.5 ? below(n) : below(Math.min(n, 400)));
  let out: Uint8Array = bytes.slice();
  for (let rounds = 1 + below(3); rounds > 0; rounds--) {
    const n = out.length;
    if (n < 2) return out;
    const at = place(n);
    const length = 1 + below(Math.min(64, n - at));
    const how = random();
    if (how < 0.3) out[at] = below(256);
    else if (how < 0.5) out[at] = TELLING[below(TELLING.length)]!;
    else if (how < 0.6) out.fill(TELLING[below(TELLING.length)]!, at, at + length);
    else if (how < 0.7) out = out.slice(0, at);
    else if (how < 0.8) out = joined(out.subarray(0, at), out.subarray(at + length));
    else if (how < 0.9)
      out = joined(out.subarray(0, at), out.subarray(at, at + length), out.subarray(at));
    else for (let k = at; k < at + length; k++) out[k] = below(256);
  }
  return out;
}

function joined(...parts: readonly Uint8Array[]): Uint8Array {
  const out = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}

/** The same PNG with every checksum made to fit its chunk, so that damage reaches what lies behind them. */
export function withRightChecksums(png: Uint8Array): Uint8Array {
  const out = png.slice();
  const data = new DataView(out.buffer);
  for (let at = 8; at + 12 <= out.length;) {
    const end = at + 8 + data.getUint32(at);
    if (end + 4 > out.length) break;
    data.setUint32(end, crc32(out.subarray(at + 4, end)));
    at = end + 4;
  }
  return out;
}
