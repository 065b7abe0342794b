import { type ChildProcess, execFileSync, spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdirSync } from 'node:fs'
import { connect, createServer } from 'node:net'

/** Debian's Redis server where there is none; as root it is installed. @throws Error one sentence */
export function needRedis(): void {
  const there = (): boolean => {
    try {
      execFileSync('redis-server', ['--version'], { stdio: 'ignore' })
      return true
    } catch {
      return false
    }
  }
  if (there()) return
  if (process.getuid?.() === 0)
    try {
      const quiet = { stdio: 'ignore', env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' } } as const
      execFileSync('apt-get', ['update'], quiet)
      // Debian would start a server of its own: not here.
      execFileSync('apt-get', ['install', '-y', '--no-install-recommends', 'redis-server'], {
        ...quiet,
        env: { ...quiet.env, RUNLEVEL: '1' },
      })
    } catch {}
  if (!there())
    throw new Error(
      'No redis-server was found: install Debian’s (apt-get install redis-server) and run this again.',
    )
}

/** A server of its own: a port that is free, a folder, and every write on the disk before it is answered. */
export class RedisServer {
  readonly port: number
  readonly #folder: string
  #child: ChildProcess | null = null

  private constructor(port: number, folder: string) {
    this.port = port
    this.#folder = folder
  }

  static async on(folder: string): Promise<RedisServer> {
    mkdirSync(folder, { recursive: true })
    const probe = createServer().listen(0, '127.0.0.1')
    await once(probe, 'listening')
    const { port } = probe.address() as { port: number }
    await new Promise((done) => probe.close(done))
    const server = new RedisServer(port, folder)
    await server.start()
    return server
  }

  async start(): Promise<void> {
    const args = `--port ${this.port} --bind 127.0.0.1 --dir ${this.#folder} --appendonly yes --appendfsync always --save`
    this.#child = spawn('redis-server', [...args.split(' '), ''], { stdio: 'ignore' })
    for (let tries = 0; tries < 200; tries++) {
      if (await this.#answers()) return
      await new Promise((done) => setTimeout(done, 50))
    }
    throw new Error(`redis-server does not answer on port ${this.port}`)
  }

  /** As if the power had gone. */
  async kill(): Promise<void> {
    const child = this.#child!
    const gone = once(child, 'exit')
    child.kill('SIGKILL')
    await gone
  }

  #answers(): Promise<boolean> {
    return new Promise((resolve) => {
      const socket = connect(this.port, '127.0.0.1', () => socket.write('PING\r\n'))
      socket.on('data', (bytes) => {
        socket.destroy()
        resolve(bytes.toString().startsWith('+PONG'))
      })
      socket.on('error', () => resolve(false))
    })
  }
}
