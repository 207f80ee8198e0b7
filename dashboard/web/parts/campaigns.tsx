import { useState } from 'preact/hooks';
import type { KeptCampaign } from '../../../shared/world-replay.ts';
import { percentWords } from '../../views/number-words.ts';
import { foundShareOf, operatingCurveSvg, variedSetting } from '../../views/operating-curve-svg.ts';
import { delayWords, REPLAY_SETTING_WORDS } from '../../views/replay-words.ts';
import { timeWords } from '../../views/site-time.ts';
import { useWidthPx } from '../use-width.ts';
import { ChoiceField } from './form-fields.tsx';
import { Markup } from './markup.tsx';

const COMMAND = 'npx --no-install lull score --campaign 100 --sweep smallestChange=0.05,0.1,0.2,0.4';

/** Campaigns that the score command has kept, and of the chosen one what is found at what price. */
export function Campaigns({ campaigns }: { readonly campaigns: readonly KeptCampaign[] }) {
  const [chosen, setChosen] = useState('');
  const [holder, widthPx] = useWidthPx<HTMLDivElement>(640);
  const campaign = campaigns.find((one) => one.id === chosen) ?? campaigns[0];
  return (
    <section aria-labelledby="campaigns-title">
      <h2 id="campaigns-title">Campaigns</h2>
      <p class="lead">
        <strong>Simulated.</strong> How much is found over many random worlds, and at what price in false findings. A campaign takes minutes to hours and runs from the command line, on the same data folder:
      </p>
      <p>
        <code class="command">{COMMAND}</code>
      </p>
      {campaign === undefined ? <p>No campaign is kept here yet.</p> : (
        <>
          <ChoiceField words="Campaign" value={campaign.id} choices={campaigns.map((one) => [one.id, `${one.says} (${one.points.length === 1 ? 'one setting' : `${one.points.length} settings`})`] as const)} change={setChosen} />
          <p class="quiet">
            Scored {timeWords(Date.parse(campaign.at), 'UTC')} UTC by version {campaign.version}. {campaign.purpose === 'tuning' ? 'Tuning seeds: the analysis may have been changed while these worlds were looked at.' : 'Reporting seeds: never looked at one by one.'}
          </p>
          <div ref={holder}>
            <Markup svg={operatingCurveSvg(campaign, Math.min(widthPx, 760))} />
          </div>
          <PointTable campaign={campaign} />
        </>
      )}
    </section>
  );
}

function PointTable({ campaign }: { readonly campaign: KeptCampaign }) {
  const varied = variedSetting(campaign.points);
  const severities = [...new Set(campaign.points.flatMap((one) => one.bySeverity.map(({ severity }) => severity)))];
  return (
    <div class="wide" tabIndex={0} role="group" aria-label="The curve as a table">
      <table class="campaign-points">
        <thead>
          <tr>
            <th scope="col">{REPLAY_SETTING_WORDS[varied]}</th>
            <th scope="col">False findings a generator-year (95 % range)</th>
            <th scope="col">Found</th>
            {severities.map((severity) => (
              <th key={severity} scope="col">
                of {severity} ones
              </th>
            ))}
            <th scope="col">Cause right, of the found</th>
            <th scope="col">Half found within</th>
            <th scope="col">Settings</th>
          </tr>
        </thead>
        <tbody>
          {campaign.points.map((one) => {
            const share = foundShareOf(one);
            return (
              <tr key={one.hash}>
                <th scope="row">{one.settings[varied]}</th>
                <td>
                  {one.falsePerYear.value.toFixed(2)} ({one.falsePerYear.low.toFixed(2)} to {one.falsePerYear.high.toFixed(2)}; {one.falseFindings} in {one.generatorYears.toFixed(1)} years)
                </td>
                <td>{share === null ? '–' : `${percentWords(share)} of ${one.found + one.missed}`}</td>
                {severities.map((severity) => {
                  const row = one.bySeverity.find((each) => each.severity === severity);
                  const part = row === undefined ? null : foundShareOf(row);
                  return <td key={severity}>{part === null || row === undefined ? '–' : `${percentWords(part)} of ${row.found + row.missed}`}</td>;
                })}
                <td>{one.found === 0 ? '–' : percentWords(one.causeRight / one.found)}</td>
                <td>{one.delayMedianH === null ? '–' : delayWords(one.delayMedianH)}</td>
                <td>
                  <code>{one.hash}</code>
                </td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </div>
  );
}
