/** A resolved SenML name and the channel that it ends in. */
export type ResolvedName = { readonly name: string; readonly channel: string; readonly problem: string | undefined };

/** First a letter or digit, then also - : . / _ @see RFC 8428, section 4.5.1. */
const NAME_PATTERN = /^[A-Za-z0-9][A-Za-z0-9\-:./_]*$/;
/** Names are few and come again and again; what strangers send must not fill the memory. */
const MAX_REMEMBERED = 20_000;

const remembered = new Map<string, Map<string, ResolvedName>>();
let rememberedCount = 0;

/** Join base name and name. The same pair gives the same object: joining and checking each record costs more than all the rest. */
export function resolveName(baseName: string, name: string): ResolvedName {
  let ofBase = remembered.get(baseName);
  const known = ofBase?.get(name);
  if (known !== undefined) return known;
  const resolved = joined(baseName + name);
  if (rememberedCount >= MAX_REMEMBERED) {
    remembered.clear();
    rememberedCount = 0;
    ofBase = undefined;
  }
  if (ofBase === undefined) {
    ofBase = new Map();
    remembered.set(baseName, ofBase);
  }
  ofBase.set(name, resolved);
  rememberedCount += 1;
  return resolved;
}

function joined(name: string): ResolvedName {
  const channel = name.slice(Math.max(name.lastIndexOf('/'), name.lastIndexOf(':')) + 1);
  if (name === '') return { name, channel, problem: 'a name is missing: n, bn or both must give one' };
  if (!NAME_PATTERN.test(name)) return { name, channel, problem: `name ${JSON.stringify(name.slice(0, 80))} must be of letters, digits and - : . / _ and begin with a letter or digit` };
  return { name, channel, problem: undefined };
}
