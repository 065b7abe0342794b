import { DuckDBInstance } from '@duckdb/node-api'

/** Rows of a question to DuckDB, as objects. */
export async function duck(sql: string, before: readonly string[] = []): Promise<Record<string, unknown>[]> {
  const instance = await DuckDBInstance.create(':memory:', { threads: '1' })
  const connection = await instance.connect()
  try {
    for (const each of before) await connection.run(each)
    return (await connection.runAndReadAll(sql)).getRowObjectsJS() as Record<string, unknown>[]
  } finally {
    connection.closeSync()
    instance.closeSync()
  }
}
