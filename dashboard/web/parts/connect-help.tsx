const PAYLOAD = `[
  {"bn": "urn:dev:gen-1:", "n": "running", "vb": true},
  {"n": "tank-pressure", "u": "Pa", "v": 652000},
  {"n": "nitrogen", "u": "/", "v": 0.984}
]`;
const LINE = `mosquitto_pub -h 127.0.0.1 -p 1883 -q 1 \\
  -t lull/v1/quay-7/gen-1/readings \\
  -m '[{"n":"running","vb":true},{"n":"tank-pressure","u":"Pa","v":652000}]'`;
const PRESENCE = `{"online": true, "generators": ["gen-1"]}`;

/** How to point a gateway here. The same words as the contract of the wire: nothing is special to one maker's box. */
export function ConnectHelp() {
  return (
    <section id="connect" aria-labelledby="connect-title">
      <h2 id="connect-title">How to connect a gateway</h2>
      <p>
        Publish to the topic <code>lull/v1/SITE/GENERATOR/readings</code> at QoS 1. Ids are lower-case letters, digits and hyphens. The payload is a SenML pack (RFC 8428, JSON); without a time, the time of receipt is taken.
      </p>
      <pre tabIndex={0}>{PAYLOAD}</pre>
      <p>To try it by hand, with the broker of this service on the same machine (on another port than 1883 if it was set so, by LULL_MQTT_PORT, or if that one was taken):</p>
      <pre tabIndex={0}>{LINE}</pre>
      <p>
        So that a silent gateway is known at once, publish this, retained, on <code>lull/v1/SITE/presence/GATEWAY</code> when it connects, and leave the same with <code>false</code> as its will:
      </p>
      <pre tabIndex={0}>{PRESENCE}</pre>
      <p>
        Run state (<code>running</code>, on change and at least hourly) is enough to split demand from delivery. <code>tank-pressure</code>, the pressures before and after the elements (<code>discharge-pressure</code>, <code>feed-pressure</code>), <code>system-pressure</code> and <code>nitrogen</code> each sharpen the cause.
      </p>
    </section>
  );
}
