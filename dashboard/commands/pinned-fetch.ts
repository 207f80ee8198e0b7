import { X509Certificate } from 'node:crypto';
import { request } from 'node:https';
import { connect, type TLSSocket } from 'node:tls';

/**
 * Ask a server of this machine over TLS, and only the one whose certificate this is: names and authorities are not looked
 * at, since the certificate is for the name that phones use, and a self-signed one is as good here.
 * @throws {Error} when another certificate answers, or nothing.
 */
export function pinnedFetch(url: URL, cert: string, init: { readonly method?: string; readonly headers?: Readonly<Record<string, string>>; readonly body?: string; readonly signal: AbortSignal }): Promise<Response> {
  const wanted = new X509Certificate(cert).fingerprint256;
  return new Promise((resolve, reject) => {
    const socket: TLSSocket = connect({ host: url.hostname.replaceAll(/[[\]]/g, ''), port: Number(url.port === '' ? 443 : url.port), rejectUnauthorized: false, ALPNProtocols: ['http/1.1'] });
    socket.once('error', reject);
    socket.once('secureConnect', () => {
      if (socket.getPeerX509Certificate()?.fingerprint256 !== wanted) {
        socket.destroy();
        reject(new Error('another certificate answered than that of the server'));
        return;
      }
      const asked = request(url, { method: init.method ?? 'GET', headers: { ...init.headers, connection: 'close' }, signal: init.signal, createConnection: () => socket }, (response) => {
        const parts: Buffer[] = [];
        response.on('data', (part: Buffer) => parts.push(part)).on('end', () => resolve(new Response(response.statusCode === 204 ? null : Buffer.concat(parts), { status: response.statusCode ?? 500, headers: { 'content-type': response.headers['content-type'] ?? '' } }))).on('error', reject);
      });
      asked.once('error', reject);
      asked.end(init.body);
    });
  });
}
