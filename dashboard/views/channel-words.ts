const WORDS: Readonly<Record<string, string>> = {
  running: 'whether the compressor runs (running)',
  producing: 'whether the membrane valve is open (producing)',
  duty: 'the duty ratio (duty)',
  'run-time': 'the hour meter (run-time)',
  starts: 'the count of starts (starts)',
  power: 'whether mains is present (power)',
  'tank-pressure': 'the pressure of the tank (tank-pressure)',
  'discharge-pressure': 'the pressure before the elements (discharge-pressure)',
  'feed-pressure': 'the pressure after the elements (feed-pressure)',
  'system-pressure': 'the pressure of the piping (system-pressure)',
  nitrogen: 'the share of nitrogen (nitrogen)',
  oxygen: 'the share of oxygen (oxygen)',
  'motor-current': "the motor's current (motor-current)",
};

/** A channel that is missing, as what it would tell, with the name under which it is sent. */
export function channelWords(channel: string): string {
  return WORDS[channel] ?? channel;
}
