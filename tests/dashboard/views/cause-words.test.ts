// Issue: "The main job, end to end": the service list says who must go and what to bring. Common practice, no source.
import { expect, test } from 'vitest';
import { CAUSES, type Evidence } from '../../../shared/finding.ts';
import { causeInWords, leakSide, mustGoAtOnce, probabilityOf, whatToBring, whoMustGo } from '../../../dashboard/views/cause-words.ts';

const says = (text: string, weight = 2): Evidence => ({ says: text, for: 'leak', weight });

test('causeInWords() and whoMustGo() have their own words for every cause', () => {
  expect(new Set(CAUSES.map((cause) => causeInWords(cause))).size).toBe(CAUSES.length);
  for (const cause of CAUSES) expect(whoMustGo(cause).length).toBeGreaterThan(5);
});

test('whoMustGo() sends licensed people to the piping, and to nothing else that is known to be elsewhere', () => {
  expect(whoMustGo('leak', 'piping')).toMatch(/licensed sprinkler fitter.*hold test/);
  expect(whoMustGo('leak', 'tank')).toBe('generator technician');
  expect(whoMustGo('leak')).toMatch(/generator technician.*licensed sprinkler fitter/);
  for (const cause of ['element-loading', 'drain-stuck-open', 'drain-stuck-closed', 'compressor-side'] as const) expect(whoMustGo(cause)).toMatch(/^generator technician/);
  expect(whoMustGo('membrane-decline')).toContain("maker's instructions");
  for (const cause of ['sensor-fault', 'data-gap'] as const) expect(whoMustGo(cause)).toBe('instrument and gateway person');
  expect(whoMustGo('undetermined', null, ['data-gap', 'no-power'])).toBe('someone on site looks at the breaker first; then instrument and gateway person');
  expect(whoMustGo('no-power')).toMatch(/electrician.*on site/);
  for (const cause of ['valve-left-shut', 'bleed-left-open'] as const) expect(whoMustGo(cause)).toMatch(/^whoever was there last, at once/);
});

test('mustGoAtOnce() is true where protection or the machine is at stake, and for no slow cause', () => {
  expect(CAUSES.filter((cause) => mustGoAtOnce(cause)).sort()).toEqual(['bleed-left-open', 'no-power', 'not-starting', 'runs-without-end', 'supply-bypassed', 'valve-left-shut']);
  expect(mustGoAtOnce(null)).toBe(false);
  // Which of several nobody knows: as likely as not one of them is enough.
  expect(mustGoAtOnce('undetermined', [{ cause: 'supply-bypassed', probability: 0.5 }, { cause: 'valve-left-shut', probability: 0.3 }])).toBe(true);
  expect(mustGoAtOnce('undetermined', [{ cause: 'data-gap', probability: 0.7 }, { cause: 'no-power', probability: 0.2 }])).toBe(false);
});

test('leakSide() reads the side that the evidence says, and none when it says both or is against', () => {
  expect(leakSide([says('more refills are seen: piping side')])).toBe('piping');
  expect(leakSide([says('Tank side: refills are unchanged')])).toBe('tank');
  expect(leakSide([says('piping side'), says('tank side')])).toBeNull();
  expect(leakSide([says('piping side', -2)])).toBeNull();
  expect(leakSide([])).toBeNull();
});

test('whatToBring() to a generator that fell silent is what a gateway needs', () => {
  expect(whatToBring('undetermined', [{ cause: 'data-gap', probability: 0.7 }, { cause: 'no-power', probability: 0.2 }], ['data-gap', 'no-power'])).toEqual(whatToBring('data-gap'));
});

test('whatToBring() names elements by position and carries parts for every likely cause, each once', () => {
  expect(whatToBring('element-loading')).toEqual(['particulate element', 'coalescing element', 'carbon element', 'o-rings for the bowls']);
  const two = whatToBring('drain-stuck-open', [{ cause: 'drain-stuck-open', probability: 0.6 }, { cause: 'drain-stuck-closed', probability: 0.3 }, { cause: 'membrane-decline', probability: 0.1 }]);
  expect(two).toContain('coalescing element');
  expect(two).not.toContain('portable oxygen analyser');
  expect(new Set(two).size).toBe(two.length);
  expect(whatToBring('undetermined', [], ['element-loading', 'drain-stuck-open'])).toEqual(expect.arrayContaining(['particulate element', 'condensate drain']));
  expect(whatToBring('leak', [], null, 'piping')[0]).toBe('pump and gauge for a hold test');
  expect(whatToBring(null)).toContain('intake element');
});

test('causeInWords() and probabilityOf() speak of the whole group when the channels can not tell', () => {
  expect(causeInWords('undetermined', ['drain-stuck-open', 'compressor-side'])).toBe("one of these, the channels sent can't tell which: a condensate drain is stuck open; the compressor delivers less");
  const causes = [{ cause: 'drain-stuck-open', probability: 0.5 }, { cause: 'compressor-side', probability: 0.4 }, { cause: 'leak', probability: 0.1 }] as const;
  expect(probabilityOf({ cause: 'undetermined', causes, among: ['drain-stuck-open', 'compressor-side'] })).toBeCloseTo(0.9, 12);
  // What is left over for none of them is no part of how sure the group is.
  expect(probabilityOf({ cause: 'undetermined', causes: [{ cause: 'drain-stuck-open', probability: 0.5 }, { cause: 'compressor-side', probability: 0.25 }, { cause: 'undetermined', probability: 0.25 }], among: ['drain-stuck-open', 'compressor-side'] })).toBe(0.75);
  expect(probabilityOf({ cause: 'leak', causes, among: null })).toBe(0.1);
  expect(probabilityOf({ cause: 'no-power', causes: [], among: null })).toBe(0);
});
