"""How the page looks, in one text."""

from __future__ import annotations

from collections.abc import Mapping

from coach.page.palette import DARK, LIGHT

_RULES = """
*{box-sizing:border-box}
html{font-size:112.5%;-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0;background:var(--paper);color:var(--ink);
font-family:system-ui,-apple-system,"Segoe UI",Roboto,"Noto Sans","Liberation Sans",sans-serif;
line-height:1.45;font-variant-numeric:tabular-nums}
main,header,nav,footer{max-width:68rem;margin:0 auto;padding:0 1rem}
header{padding-top:1.6rem}
h1{font-size:1.9rem;line-height:1.15;margin:0 0 .2rem;text-wrap:balance}
h2{font-size:1.5rem;line-height:1.2;margin:3rem 0 0;padding-top:.9rem;
border-top:.18rem solid var(--ink)}
h3{font-size:1.15rem;line-height:1.25;margin:0 0 .35rem}
p{margin:.3rem 0;max-width:44rem}
a{color:var(--main)}
a:focus-visible,summary:focus-visible,.wide:focus-visible{outline:.16rem solid var(--main);
outline-offset:.16rem}
header nav{padding:0}
nav ul{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;list-style:none;margin:.9rem 0 0;padding:0}
nav a{display:inline-block;min-height:1.6rem}
.soft{color:var(--soft)}
.next{border-left:.35rem solid var(--ink);padding:.55rem .9rem;margin:1rem 0;
background:var(--card);font-size:1.15rem;font-weight:600;max-width:none;overflow-wrap:anywhere}
h1,h2,h3,p,td,th,li,figcaption{overflow-wrap:anywhere}
figure{margin:1.7rem 0 0;display:grid;gap:.6rem 2rem;grid-template-columns:minmax(0,1fr)}
figure svg{display:block;width:100%;height:auto}
.answer{font-size:1.08rem;font-weight:600}
.legend{list-style:none;margin:.5rem 0;padding:0;font-size:.89rem;color:var(--soft)}
.legend li{display:flex;gap:.5rem;align-items:center;margin:.12rem 0}
.legend svg{flex:none;width:1.9rem;height:1.1rem}
.across .legend{display:flex;flex-wrap:wrap;gap:.1rem 1.3rem}
details{margin-top:.4rem;font-size:.89rem}
summary{cursor:pointer;color:var(--soft);min-height:1.5rem}
table{border-collapse:collapse;margin:.4rem 0}
th,td{padding:.2rem .6rem .2rem 0;text-align:left;font-weight:400;vertical-align:top}
thead th{color:var(--soft);border-bottom:1px solid var(--axis)}
.figures td+td,.figures th+th{text-align:right}
.wide{overflow-x:auto;position:relative}
@media (min-width:60rem){
figure:not(.across){grid-template-columns:minmax(0,18rem) minmax(0,1fr)}
}
.plot text,.line>text{fill:var(--ink);font-size:17px}
.plot text.soft,.line>text.soft{fill:var(--soft)}
.axis{stroke:var(--axis);stroke-width:1.5;fill:none}
.grid{stroke:var(--grid);stroke-width:1;fill:none}
.band{fill:var(--band);stroke:none}
.main{stroke:var(--main);stroke-width:3;fill:none;stroke-linejoin:round;stroke-linecap:round}
.mainfill{fill:var(--main);stroke:none}
.thin{stroke:var(--main);stroke-width:2;fill:none}
.hollow{fill:var(--paper);stroke:var(--main);stroke-width:1.8}
.unsure{fill:var(--paper);stroke:var(--axis);stroke-width:2;stroke-dasharray:3 2.5}
.faint{stroke:var(--axis);stroke-width:2;stroke-dasharray:4 3;fill:none}
.goal{stroke:var(--ink);stroke-width:2.5;stroke-dasharray:9 5;fill:none}
.plot text.goaltext{fill:var(--ink);font-weight:600}
.resting{stroke:var(--rest);stroke-width:1.8;fill:none}
.late,.early{fill:var(--time);stroke:none}
.wrong,.split{stroke:var(--pitch)}
.missed,.muffled{stroke:var(--sound)}
.split{fill:var(--pitch)}
.muffled{fill:var(--sound)}
.wrong,.missed{fill:none}
.hot{fill:var(--hot)}
.quiet{fill:var(--axis);stroke:none}
.failed{fill:var(--paper);stroke:var(--axis);stroke-width:1.8}
.half{stroke-width:9;stroke-opacity:.45}
.half.quiet{stroke:var(--axis)}
.half.late,.half.early{stroke:var(--time)}
.plot text.now{font-weight:700;font-size:21px}
.now,.goaltext{paint-order:stroke;stroke:var(--paper);stroke-width:5px;stroke-linejoin:round}
.line .now{stroke:none}
.plot text.value{font-weight:600}
.line>text{font-size:33px}
.line>text.now{font-size:42px;font-weight:700}
.engraving{color:var(--ink)}
.engraving path,.engraving polygon,.engraving polyline,.engraving rect,.engraving ellipse
{stroke:currentColor}
.engraving g.fing,.engraving g.reh,.engraving g.tempo{font-weight:bold}
.engraving g.dir,.engraving g.dynam,.engraving g.mNum{font-style:italic}
.engraving{fill:currentColor}
.engraving text{fill:currentColor}
.pair{display:flex;flex-wrap:wrap;gap:.5rem 3rem;align-items:start}
.moves{font-size:.95rem}
.moves caption{text-align:left}
.moves th{color:var(--soft);text-align:center;padding:.25rem .4rem}
.moves td{border:1px solid var(--grid);padding:.3rem .45rem;text-align:center;min-width:4.6rem;
color:var(--ink)}
.moves td b{display:block;white-space:nowrap}
.moves td span{font-size:.84rem;white-space:nowrap}
.moves td.open{border:1px dashed var(--axis);color:var(--soft)}
.moves td.open b{font-weight:400}
.moves td.more{border:0;text-align:left;white-space:nowrap;font-size:.84rem}
.moves tbody th{vertical-align:middle;white-space:nowrap}
.thumbs tbody th{text-align:left}
.moves td.worst{outline:.2rem solid var(--ink);outline-offset:-.2rem}
.moves .none{border:0}
footer{margin-top:3rem;padding-bottom:2rem;color:var(--soft);font-size:.89rem}
@media (max-width:45rem){
.wide>svg{width:44rem;max-width:none}
.moves tbody th{white-space:normal}
}
@media (max-width:30rem){.plot text{font-size:20px}}
@page{margin:14mm}
@media print{
html{font-size:11pt}
main,header,footer{max-width:none;padding:0}
nav,details{display:none}
h2{margin-top:1.4rem}
h1,h2,h3{break-after:avoid}
figure,figcaption,.next,tr,.line{break-inside:avoid}
.lines figcaption{break-after:avoid}
figure:not(.across){grid-template-columns:13rem minmax(0,1fr)}
figure.across,.pair{display:block}
figure.lines{break-inside:auto}
.wide{overflow:visible}
.wide>svg{width:100%}
}
"""


def css() -> str:
    """Light, dark where the reader's screen is, and light again on paper."""
    shades = "".join(f".s{k}{{background:var(--shade{k})}}\n" for k in range(5))
    return (
        f":root{{color-scheme:light dark;{_variables(LIGHT)}}}\n"
        f"@media (prefers-color-scheme:dark){{:root{{{_variables(DARK)}}}}}\n"
        f"@media print{{:root{{color-scheme:light;{_variables({**LIGHT, **_ON_PAPER})};"
        f"-webkit-print-color-adjust:exact;print-color-adjust:exact}}}}\n"
        f"{shades}{_RULES.strip()}\n"
    )


_ON_PAPER = {"ink": "#000000", "card": "#ffffff"}


def _variables(colours: Mapping[str, str]) -> str:
    return ";".join(f"--{name}:{value}" for name, value in colours.items())
