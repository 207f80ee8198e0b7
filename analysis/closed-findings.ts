import type { Finding } from '../shared/finding.ts';
import { type GeneratorKey, parseGeneratorKey } from '../shared/ids.ts';

/** Findings that analysis closed, by generator. */
export class ClosedFindings {
  readonly #byGenerator = new Map<GeneratorKey, Map<string, Finding>>();

  add(finding: Finding): void {
    const key = parseGeneratorKey(`${finding.site}/${finding.generator}`);
    if (key === undefined) return;
    const known = this.#byGenerator.get(key);
    if (known === undefined) this.#byGenerator.set(key, new Map([[finding.id, finding]]));
    else known.set(finding.id, finding);
  }

  of(generator: GeneratorKey): Finding[] {
    return [...(this.#byGenerator.get(generator)?.values() ?? [])];
  }

  all(): Finding[] {
    return [...this.#byGenerator.values()].flatMap((findings) => [...findings.values()]);
  }
}
