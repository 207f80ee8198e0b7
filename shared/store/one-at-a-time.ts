/** Carries out what it is given one after the other, in the order of the calls; a failure stops only its own caller. */
export type OneAtATime = <T>(work: () => Promise<T>) => Promise<T>;

export function oneAtATime(): OneAtATime {
  let last: Promise<unknown> = Promise.resolve();
  return (work) => {
    const result = last.then(work);
    last = result.catch(() => undefined);
    return result;
  };
}
