import { useEffect, useRef } from 'preact/hooks';

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
        <strong>Maintenance information only.</strong> It replaces no required signal, inspection, test or supervising station. No finding is no proof of order.
      </p>
      <details ref={details}>
        <summary>Words of care, in full</summary>
        <ul>
          <li>What is shown here is maintenance information only. It replaces no required signal, inspection, test or supervising station.</li>
          <li>That nothing was found is no proof that a generator or a system is in order.</li>
          <li>Whether something is a deficiency or an impairment is for the licensed person and the authority having jurisdiction to say.</li>
          <li>Follow local codes and the maker's instructions.</li>
          <li>Work on sprinkler systems is for licensed people.</li>
          <li>Leak figures are an indication, never a test result.</li>
        </ul>
      </details>
    </footer>
  );
}
