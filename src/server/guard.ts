import type { NextFunction, Request, Response } from 'express'
import { Refusal } from './errors.ts'

/**
 * What every request must pass. The server listens on loopback only; these keep other pages in the same browser
 * out: a page that resolves its own name to 127.0.0.1 fails the Host check, a page elsewhere fails the Origin check.
 */
export function guard(request: Request, response: Response, next: NextFunction): void {
  response.set({
    'Content-Security-Policy': PAGE_POLICY,
    'X-Content-Type-Options': 'nosniff',
    'X-Frame-Options': 'SAMEORIGIN',
    'Referrer-Policy': 'no-referrer',
    'Cross-Origin-Opener-Policy': 'same-origin',
    'Cross-Origin-Resource-Policy': 'same-origin',
    'Permissions-Policy': 'camera=(), microphone=(), geolocation=(), usb=(), serial=()',
    'Cache-Control': 'no-store',
  })
  const port = request.socket.localPort
  const host = (request.headers.host ?? '').toLowerCase()
  if (![`127.0.0.1:${port}`, `localhost:${port}`, `[::1]:${port}`].includes(host))
    throw new Refusal('wrong-host')
  const { origin } = request.headers
  if (origin !== undefined && origin.toLowerCase() !== `http://${host}`) throw new Refusal('wrong-origin')
  const site = request.headers['sec-fetch-site']
  const asksForData = request.path.startsWith('/api/') || !['GET', 'HEAD'].includes(request.method)
  if (asksForData && (site === 'cross-site' || site === 'same-site')) throw new Refusal('wrong-origin')
  next()
}

const PAGE_POLICY =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; " +
  "connect-src 'self'; frame-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'self'"

/** The report carries its own style and drawings, and no script at all. */
export const REPORT_POLICY =
  "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'"
