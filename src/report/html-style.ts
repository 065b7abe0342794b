/** The printed report's style: black on white, A4, told apart by line and weight, not by colour. */
export const REPORT_STYLE = `
@page { size: A4; margin: 14mm 14mm 18mm }
* { box-sizing: border-box }
body { font: 9.5pt/1.35 "Liberation Sans", Arial, Helvetica, sans-serif; color: #111; background: #fff; max-width: 190mm; margin: 0 auto; padding: 8mm 4mm }
h1 { font-size: 20pt; margin: 0 } h2 { font-size: 13pt; margin: 7mm 0 2mm; border-bottom: 1.5pt solid #111; break-after: avoid }
h3 { font-size: 11.5pt; margin: 0 0 2mm; break-after: avoid }
header p { margin: 1mm 0 } .notice, footer p { font-size: 9.5pt; border-left: 3pt double #111; padding-left: 3mm }
article { border: 1pt solid #999; border-left-width: 5pt; padding: 3mm 4mm; margin: 0 0 4mm; -webkit-box-decoration-break: clone; box-decoration-break: clone } .told, li, svg { break-inside: avoid } .label { break-after: avoid }
article.stop { border-left: 8pt solid #000 } article.attention { border-left: 6pt double #000 } article.note { border-left: 4pt dotted #555 }
.mark { display: inline-block; white-space: nowrap; border: 1.2pt solid #000; padding: 0 2mm; margin-right: 1mm; font-size: 10pt }
table.summary { margin: 3mm 0 1mm } .summary td:first-child { width: 26mm } .summary td { border: 0; font-size: 10.5pt; font-weight: bold } .stop .mark { background: #000; color: #fff; print-color-adjust: exact; -webkit-print-color-adjust: exact } .note .mark { border-style: dotted }
dl { display: grid; grid-template-columns: 24mm 1fr; gap: 1mm 3mm; margin: 0 } dt, .label { font-weight: bold } dd { margin: 0 } .label { margin: 2mm 0 0 } .untold { columns: 2; column-gap: 6mm; margin: 1mm 0 2mm; font-size: 9pt }
ul { margin: 1mm 0 0; padding-left: 5mm } table { border-collapse: collapse; width: 100%; font-size: 8.5pt; line-height: 1.25 } th, td { text-align: left; vertical-align: top; border-bottom: .5pt solid #999; padding: .9mm 2mm .9mm 0; overflow-wrap: anywhere }
thead th { border-bottom: 1pt solid #111; overflow-wrap: normal } tr { break-inside: avoid } thead { display: table-header-group } .asked td:first-child { width: 56% } .open td:first-child { width: 27% } .open td:last-child { width: 40% } .starts td:nth-child(-n+3) { white-space: nowrap; padding-right: 4mm } .checks td:nth-child(1) { width: 8mm } .checks td:nth-child(2) { width: 38% } .checks td:nth-child(3) { width: 20mm } .checks td:nth-child(4) { width: 17% } .figures { display: block; columns: 2; column-gap: 10mm; font-size: 9pt } .figures div { display: flex; justify-content: space-between; border-bottom: .5pt solid #999; padding: .9mm 0; break-inside: avoid } .figures dd { font-variant-numeric: tabular-nums } .keep { break-inside: avoid }
svg { display: block; width: 100%; height: auto; margin-top: 3mm } svg text { font: 10px "Liberation Sans", Arial, sans-serif; fill: #111 }
code { font: 8.5pt/1.3 "Liberation Mono", monospace; overflow-wrap: anywhere } .box { display: inline-block; width: 4mm; height: 4mm; border: 1pt solid #000; text-align: center; font: bold 11pt/3.6mm sans-serif } .known b { text-decoration: line-through }
.notes { white-space: pre-wrap } .write { height: 24mm; background: repeating-linear-gradient(#fff 0 7.6mm, #bbb 7.6mm 8mm) } .sign span { display: inline-block; border-bottom: .7pt solid #111; width: 45mm; margin-right: 6mm }
h1.annex { font-size: 13pt; break-before: page; margin-top: 6mm } .front { font-size: 10.5pt; line-height: 1.35 } .front table { font-size: 10pt } .front p { margin: 1.5mm 0 } .car { border-bottom: .5pt solid #999; padding-bottom: 1mm }
.verdict { font-size: 15pt; line-height: 1.25; font-weight: bold; margin: 3mm 0 !important } .before { border: 1.5pt solid #000; padding: 1.5mm 3mm; margin: 2mm 0 } .found td:first-child { width: 25mm } .found td:last-child { width: 45% } .front table { margin: 2mm 0 } .front .mark { font-size: 8.5pt }
.card td, .found td { padding: 1.4mm 2mm 1.4mm 0 } .card td:first-child { width: 7mm } .card td:nth-child(3) { width: 27mm } .card td:nth-child(4) { width: 32mm } .card .reading { width: 30mm; border: 1pt solid #111 } .gate td { font-weight: bold; border-bottom: 1.5pt solid #000; padding-top: 2.5mm } .care { font-size: 8.5pt }
footer { margin-top: 5mm; break-inside: avoid; font-size: 9.5pt } @media print { body { padding: 0; max-width: none } }`
