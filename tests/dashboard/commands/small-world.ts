/** A world that is done in a second or two: a leak that nobody can overlook, next to a generator in good order. */
export const SMALL_WORLD = `
name: one plain leak
days: 40
sites:
  - id: small-yard
    generators:
      - id: gen-1
        reportEveryS: 600
        channels: middle
        faults: [{ cause: leak, severity: urgent, from: 24 }]
      - id: gen-2
        reportEveryS: 600
        channels: motor
`;
