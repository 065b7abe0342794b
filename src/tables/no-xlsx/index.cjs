/** Stands in for the spreadsheet reader that danfojs names: no spreadsheet is ever read or written here. */
const refuse = () => {
  throw new Error('Aftermile reads and writes no spreadsheets; use CSV.')
}
module.exports = { read: refuse, readFile: refuse, write: refuse, writeFile: refuse, utils: {} }
