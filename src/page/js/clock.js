// Job time as the page knows it. It errs to the late side, so that no age is told too small.
let known; // { t, mono, wall }: job time t was reached at these readings of the browser's clocks

const read = () => ({ mono: performance.now() / 1000, wall: Date.now() / 1000 });

/// The program said `t` after it was asked at `asked` (a result of moment()): it may have been that late already.
export function setClock(t, asked) {
  known = { t, ...asked };
}
/// A line of time `t` has come: it is at least so late.
export function notBefore(t) {
  if (known && t > now()) known = { t, ...read() };
}
export const moment = read;

/// Seconds since a moment. The steady clock may stand still while a device sleeps, the wall clock may be set: the larger counts.
export function since(then) {
  const here = read();
  return Math.max(0, here.mono - then.mono, here.wall - then.wall);
}
export function now() {
  return known ? known.t + since(known) : undefined;
}
