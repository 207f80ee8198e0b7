import { type NoticeRule, noticeRuleSchema } from '../../shared/notice.ts';
import type { RecordStore } from '../../shared/store/record-store.ts';

const SCOPE = 'notice-rules';
/** Nothing is taken out of the settings: a rule that is removed is kept as this. */
const REMOVED = 'removed';

/** Every rule, by id. What an older Lull wrote and this one can't read is left out, never sent by. */
export async function readRules(records: Pick<RecordStore, 'savedSettings'>): Promise<readonly NoticeRule[]> {
  const saved = await records.savedSettings(SCOPE);
  return [...saved.values()].flatMap((text) => {
    if (text === REMOVED) return [];
    const parsed = noticeRuleSchema.safeParse(JSON.parse(text));
    return parsed.success ? [parsed.data] : [];
  });
}

export function saveRule(records: Pick<RecordStore, 'saveSetting'>, rule: NoticeRule): Promise<void> {
  return records.saveSetting(SCOPE, rule.id, JSON.stringify(rule));
}

export function removeRule(records: Pick<RecordStore, 'saveSetting'>, id: string): Promise<void> {
  return records.saveSetting(SCOPE, id, REMOVED);
}
