import { useEffect, useRef } from 'preact/hooks';
import { CARE_ALWAYS, CARE_SHORT } from '../../views/words-of-care.ts';

/** On every page and every printed sheet: the short form in sight, the whole text one step away, and whole on paper. */
export function WordsOfCare() {
  const details = useRef<HTMLDetailsElement>(null);
  useEffect(() => {
    const open = (): void => details.current?.setAttribute('open', '');
    window.addEventListener('beforeprint', open);
    return () => window.removeEventListener('beforeprint', open);
  }, []);
  return (
    <footer class="care">
      <p>
        <strong>{CARE_SHORT.strong}</strong> {CARE_SHORT.rest}
      </p>
      <details ref={details}>
        <summary>Words of care, in full</summary>
        <ul>
          {CARE_ALWAYS.map((words) => (
            <li key={words}>{words}</li>
          ))}
        </ul>
      </details>
    </footer>
  );
}
