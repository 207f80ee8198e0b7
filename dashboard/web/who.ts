/** The name that a person types with each action; remembered on this machine only, until there are accounts. */
const NAME = 'lull.by';

export function rememberedName(): string {
  try {
    return window.localStorage.getItem(NAME) ?? '';
  } catch {
    return '';
  }
}

export function rememberName(name: string): void {
  try {
    window.localStorage.setItem(NAME, name);
  } catch {
    // A browser that keeps nothing asks again next time.
  }
}
