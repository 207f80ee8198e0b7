import type { CauseFamily, Finding, FindingAction } from '../../shared/finding.ts';
import type { Notice, NoticeChange, NoticeMessage, NoticeStory, NoticeWords } from '../../shared/notice.ts';
import { isBeingChecked } from './being-checked.ts';
import { causeInWords, leakSide, whatToBring, whoMustGo } from './cause-words.ts';
import { amongShort, CAUSE_WORDS, CLOSING_WORDS } from './domain-words.ts';
import { causeSentence, movedSentence, onsetSentence } from './finding-sentences.ts';
import { NBSP } from './number-words.ts';
import { dateWords, timeWords } from './site-time.ts';
import { waitWords } from './wait-words.ts';

export const NOTICE_CHANGE_WORDS: Readonly<Record<NoticeChange, string>> = {
  opened: 'found', 'cause-changed': 'cause changed', acknowledged: 'acknowledged', planned: 'planned', verifying: 'work done and being checked', closed: 'closed', reopened: 'open again', shelved: 'shelved', 'off-the-shelf': 'off the shelf again',
};

export const FAMILY_WORDS: Readonly<Record<CauseFamily, string>> = { demand: 'More or less is drawn', delivery: 'Less is delivered', running: 'Does not run as it should', data: 'Sensors, power and data', unknown: "Can't tell which" };

const CARE = 'Maintenance information only: it replaces no required signal, inspection, test or supervising station. No finding is no proof of order. Work on sprinkler systems is for licensed people.';

type Params = { readonly simulated: boolean; readonly generatorUrl: (site: string, generator: string) => string | null };

/** The words of notices: a subject that says where, what and by when, and a text that is whole without a link. */
export function noticeWords({ simulated, generatorUrl }: Params): NoticeWords {
  const subject = (text: string): string => plain(simulated ? `[simulated] ${text}` : text).slice(0, 200);
  const text = (lines: readonly (string | null)[], ruleName: string): string =>
    plain([
      ...(simulated ? ['Simulated readings: every site and every name here is invented.', ''] : []),
      ...lines.filter((line) => line !== null), '', CARE,
      `You are told because of the rule "${ruleName}"; Notices in Lull has it.`,
    ].join('\n'));
  return {
    one: (story) => ({ subject: subject(subjectOf(story)), text: text([...linesOf(story), generatorUrl(story.finding.site, story.finding.generator)], story.ruleName) }),
    bundle: (notices) => ({ subject: subject(bundleSubject(notices)), text: text(notices.flatMap((one) => bundleLines(one, generatorUrl)), notices[0]?.ruleName ?? '') }),
    test: (ruleName): NoticeMessage => ({ subject: subject(`Lull: test of the rule "${ruleName}"`), text: text(['This is a test. It was sent because a person pressed "Send a test"; nothing was found.'], ruleName) }),
  };
}

/** Mail programs show a space that doesn't break as a riddle. */
function plain(text: string): string {
  return text.replaceAll(NBSP, ' ');
}

function placeName({ registered }: NoticeStory): string {
  return `${registered.site.name ?? registered.site.id}, ${registered.generator.name ?? registered.generator.id}`;
}

function shortCause({ cause, among }: Pick<Finding, 'cause' | 'among'>): string {
  const words = cause === 'undetermined' && among !== null && among.length > 0 ? amongShort(among) : CAUSE_WORDS[cause];
  return words.charAt(0).toLowerCase() + words.slice(1);
}

function subjectOf(story: NoticeStory): string {
  const { change, finding } = story;
  const place = placeName(story);
  const cause = shortCause(finding);
  switch (change) {
    case 'opened':
      return `${place}: ${cause}${byWhen(story)}`;
    case 'cause-changed':
      return `${place}: now ${cause}${story.causeBefore === null ? '' : `, was ${shortCause({ cause: story.causeBefore, among: null })}`}${byWhen(story)}`;
    case 'closed':
      return `${place}: closed, ${finding.closedReason === null ? 'no reason given' : CLOSING_WORDS[finding.closedReason]} (${cause})`;
    case 'reopened':
      return `${place}: open again, ${cause}${byWhen(story)}`;
    case 'off-the-shelf':
      return `${place}: off the shelf again, ${cause}${byWhen(story)}`;
    case 'shelved':
      return `${place}: shelved${finding.shelvedUntil === null ? '' : ` until ${dateWords(Date.parse(finding.shelvedUntil), story.registered.site.timeZone, story.nowMs)}`} (${cause})`;
    default:
      return `${place}: ${NOTICE_CHANGE_WORDS[change]} (${cause})`;
  }
}

/** By when, as the list says it; only where this finding's cause leads the generator's row, else the date is another's. */
function byWhen({ row, finding, registered, nowMs }: NoticeStory): string {
  if (row === null || row.cause !== finding.cause) return '';
  const wait = waitWords({ ...row, state: finding.state }, registered.site.timeZone, nowMs);
  if (wait.due === 'none') return '';
  return ` – ${wait.until === 'at once' ? 'go at once' : wait.says}`;
}

/** Which action makes a change; all else is analysis' doing, and the last who did something had no part in it. */
const MADE_BY: Readonly<Partial<Record<NoticeChange, FindingAction['action']>>> = { acknowledged: 'acknowledge', planned: 'plan', closed: 'close', reopened: 'reopen', shelved: 'shelve', 'off-the-shelf': 'unshelve' };

function linesOf(story: NoticeStory): (string | null)[] {
  const { change, finding, registered, row, action, nowMs } = story;
  const zone = registered.site.timeZone;
  const side = leakSide(finding.evidence);
  const says = causeInWords(finding.cause, finding.among, side);
  const [first] = finding.evidence.filter((one) => one.weight > 0).sort((a, b) => b.weight - a.weight);
  const open = finding.state !== 'closed';
  const doer = action !== null && action.action === MADE_BY[change] ? action : null;
  const wanted = open && !isBeingChecked(finding);
  return [
    `${placeName(story)}${registered.site.area === undefined ? '' : ` (${registered.site.area})`}`,
    `${capital(NOTICE_CHANGE_WORDS[change])} ${timeWords(nowMs, zone)} (${zone})${doer === null ? '' : `, by ${doer.by}`}.`,
    doer?.note === undefined ? null : `Note: ${doer.note}`,
    '',
    `${causeSentence(finding)}: ${says}.`,
    onsetSentence(finding, zone, nowMs),
    row === null ? null : movedSentence(row),
    first === undefined ? null : `Because: ${first.says.replace(/\.$/, '')}.`,
    open ? capital(waitLine(story)) : null,
    wanted ? `Who: ${whoMustGo(finding.cause, side, finding.among)}.` : null,
    wanted ? `Bring: ${whatToBring(finding.cause, finding.causes, finding.among, side).join(', ') || 'nothing special'}.` : null,
    registered.site.access === undefined || !wanted ? null : `Access: ${registered.site.access}.`,
    '',
  ];
}

function waitLine(story: NoticeStory): string {
  const { row, finding, registered, nowMs } = story;
  if (row === null || row.cause !== finding.cause) return 'how long it can wait is not known for this cause.';
  const wait = waitWords({ ...row, state: finding.state }, registered.site.timeZone, nowMs);
  const because = wait.because === '' ? '' : ` (${wait.because})`;
  return `${wait.until === 'at once' ? 'go at once' : wait.says}${because}.`;
}

function bundleSubject(notices: readonly Notice[]): string {
  const counts = new Map<NoticeChange, number>();
  for (const item of notices.flatMap((one) => one.items)) counts.set(item.change, (counts.get(item.change) ?? 0) + 1);
  const parts = [...counts].map(([change, count]) => `${count} ${NOTICE_CHANGE_WORDS[change]}`);
  return `Lull: ${parts.join(', ')}`;
}

/** A line of a digest and its link; the subject of the single message says where, what and by when already. */
function bundleLines(notice: Notice, generatorUrl: Params['generatorUrl']): string[] {
  const [item] = notice.items;
  const url = item === undefined ? null : generatorUrl(item.site, item.generator);
  return [`- ${notice.subject.replace(/^\[simulated\] /, '')}`, ...(url === null ? [] : [`  ${url}`])];
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
