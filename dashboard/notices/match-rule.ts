import { familyOf, type Finding } from '../../shared/finding.ts';
import type { NoticeChange, NoticeRule } from '../../shared/notice.ts';

/** Whether a rule wants to be told of this. With `undetermined`, a cause that it may be counts as well as the name itself. */
export function wants(rule: NoticeRule, change: NoticeChange, finding: Finding, area: string | undefined): boolean {
  if (!rule.enabled || !rule.changes.includes(change)) return false;
  const causes = [finding.cause, ...(finding.among ?? [])];
  if (rule.families.length > 0 || rule.causes.length > 0) {
    if (!causes.some((cause) => rule.causes.includes(cause) || rule.families.includes(familyOf(cause)))) return false;
  }
  if (rule.areas.length > 0 && (area === undefined || !rule.areas.includes(area))) return false;
  return rule.sites.length === 0 || rule.sites.includes(finding.site);
}

/** Where the channels can't tell which, so sure it must be that it is one that is told at once. */
const AT_ONCE = 0.5;

/** Whether it passes quiet hours and digest: one of the rule's causes that are told at once, or as likely as not one of them, and the finding isn't over. */
export function isUrgent(rule: NoticeRule, { state, cause, causes, among }: Finding): boolean {
  if (state === 'closed') return false;
  return rule.atOnceCauses.includes(cause) || causes.reduce((sum, one) => sum + (among?.includes(one.cause) === true && rule.atOnceCauses.includes(one.cause) ? one.probability : 0), 0) >= AT_ONCE;
}
