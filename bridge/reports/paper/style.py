"""How the paper looks: black on white, on A4, US Letter, or a phone."""

STYLE = """
@page { margin: 12mm }
body { font: 10pt/1.35 "Liberation Sans", Arial, sans-serif; color: #222; background: #fff; max-width: 186mm;
  margin: 8mm auto; padding: 0 4mm }
h1 { font-size: 17pt; margin: 0 } h2 { font-size: 11.5pt; margin: 5mm 0 1mm; break-after: avoid } p { margin: 1mm 0 }
h3 { font-size: 10pt; margin: 3mm 0 0.5mm; break-after: avoid }
table { border-collapse: collapse; font-variant-numeric: tabular-nums } caption { text-align: left; margin-bottom: 1mm }
td, th { padding: 0.5mm 2.5mm 0.5mm 0; text-align: right; vertical-align: top; font-weight: normal }
td:first-child, th:first-child { text-align: left } thead th { border-bottom: 1px solid #777 }
thead { display: table-header-group } tr { break-inside: avoid } tbody th { font-weight: bold }
.counts { display: flex; flex-wrap: wrap; gap: 1mm 7mm; margin: 3mm 0 } .counts b { font-size: 15pt; display: block }
.look { border-left: 3px solid #222; padding-left: 3mm; break-inside: avoid }
.pictures { display: grid; grid-template-columns: 1fr 1fr; gap: 4mm; align-items: start }
figure { margin: 0; break-inside: avoid } figcaption { font-weight: bold }
svg { width: 100%; height: auto; display: block }
.lists { display: flex; flex-wrap: wrap; gap: 0 9mm } .keep { break-inside: avoid }
.wide { overflow-x: auto } .wide table { font-size: 9pt } .wide td { white-space: nowrap }
.wide .animals { font-size: 8.5pt; width: 100% }
.animals tbody tr { border-bottom: 1px solid #ddd }
.animals td:last-child, .animals th:last-child, .texts td { text-align: left }
.animals td:last-child { white-space: normal }
.animals td:nth-child(2), .animals th:nth-child(2) { text-align: left }
.texts td, .texts th { padding-right: 5mm; text-align: left }
footer { margin-top: 6mm; border-top: 1px solid #777; font-size: 8.5pt; break-inside: avoid }
@media (max-width: 640px) { body { margin: 4mm auto } .pictures { grid-template-columns: 1fr }
  .look { overflow-wrap: anywhere } }
@media print { body { margin: 0; padding: 0; max-width: none } .wide { overflow: visible } }
"""
