import { causeInWords, leakSide, probabilityOf, whatToBring, whoMustGo } from '../../views/cause-words.ts';
import { sureWords } from '../../views/domain-words.ts';
import { gaugeWords, type GaugeUnit } from '../../views/gauge-units.ts';
import type { NormalHere } from '../../views/normal-here.ts';
import { durationWords, percentWords } from '../../views/number-words.ts';
import { ageWords } from '../../views/site-time.ts';
import type { Card, Draft } from './draft.ts';

/** Where, why, what to bring, and what is normal here: readable without signal. */
export function VisitCard(props: { readonly draft: Draft; readonly generator: string; readonly nowMs: number }) {
  const { draft, nowMs } = props;
  const card = draft.cards[props.generator];
  if (card === undefined) return <p class="problem">Nothing of {draft.site}, {props.generator} is on this phone yet, and there is no signal. Address, cause and normal figures are missing; the steps work.</p>;
  const { site } = card.detail;
  return (
    <details class="visit-card" open={draft.startedAt === null}>
      <summary>
        <h2>Where, why, what to bring</h2>
      </summary>
      <dl>
        <dt>Address</dt>
        <dd>{site.address ?? (site.area === undefined ? 'not in the registry' : `not in the registry; area: ${site.area}`)}</dd>
        <dt>Access</dt>
        <dd>{site.access ?? 'not in the registry'}</dd>
        <Expected card={card} draft={draft} />
      </dl>
      <h3>Normal here</h3>
      <Normal normal={card.normal} unit={draft.unit} />
      <p class="quiet">As known {ageWords(card.keptAtMs, nowMs)}. Times are those of {site.timeZone}.</p>
    </details>
  );
}

function Expected(props: { readonly card: Card; readonly draft: Draft }) {
  const { row, findings } = props.card.detail;
  const finding = findings.find((one) => one.state !== 'closed');
  const side = leakSide(finding?.evidence ?? []);
  const planned = props.draft.plan?.bring ?? [];
  const bring = planned.length > 0 ? planned : whatToBring(row?.cause ?? null, row?.causes ?? [], finding?.among ?? null, side);
  return (
    <>
      <dt>Expected cause</dt>
      <dd>
        {finding === undefined ? 'Nothing found. This is no proof of order.' : <strong>{causeInWords(finding.cause, finding.among, side)} ({sureWords(probabilityOf(finding))})</strong>}
        {finding !== undefined && <span class="under">{whoMustGo(finding.cause, side, finding.among)}</span>}
        {finding?.evidence.filter((one) => one.weight > 0).slice(0, 2).map((one) => <span key={one.says} class="under">{one.says}</span>)}
      </dd>
      <dt>Bring</dt>
      <dd>{bring.length === 0 ? 'nothing in particular' : bring.join(', ')}</dd>
    </>
  );
}

function Normal(props: { readonly normal: NormalHere; readonly unit: GaugeUnit }) {
  const { normal, unit } = props;
  const pressure = (kPa: number | null): string | undefined => (kPa === null ? undefined : gaugeWords(kPa, unit));
  const rows = ([
    ['starts at (cut-in)', pressure(normal.cutInKPa)], ['stops at (cut-out)', pressure(normal.cutOutKPa)], ['run', normal.meanRunMin === null ? undefined : durationWords(normal.meanRunMin * 60)], ['rest', normal.meanRestMin === null ? undefined : durationWords(normal.meanRestMin * 60)],
    ['duty ratio', normal.dutyRatio === null ? undefined : percentWords(normal.dutyRatio)], ['piping', pressure(normal.systemKPa)], ['drop over elements', pressure(normal.elementDropKPa)], ['nitrogen', normal.nitrogenPercent === null ? undefined : `${normal.nitrogenPercent.toFixed(1)}\u00a0%`],
  ] as const).filter(([, words]) => words !== undefined);
  if (rows.length === 0) return <p>Not known yet: too few days were heard.</p>;
  return (
    <dl class="normal">
      {rows.map(([name, words]) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd>{words}</dd>
        </div>
      ))}
    </dl>
  );
}
