"""Look and behaviour of the day's page: all of it stands in the page, nothing is fetched."""

STYLE = """
:root{color-scheme:light dark;--paper:#f6f4ef;--card:#fff;--ink:#17222b;--soft:#56636d;--line:#d8d4ca;--sea:#0b5a6b;
--plenty:#4f7f9b;--window:#2c7a52;--between:#8a6a00;--bumper:#b4560f;--bottomed:#a5222f;--unknown:#6b7177;
--wash:#e3eef0}
@media(prefers-color-scheme:dark){:root{--paper:#10171c;--card:#18222a;--ink:#e9edef;--soft:#a3b0b8;--line:#33414b;
--sea:#6fc3d3;--plenty:#86b7d4;--window:#6ccb98;--between:#e2bb45;--bumper:#f29a57;--bottomed:#ff8088;
--unknown:#a0a7ad;--wash:#1d2d34}}
*{box-sizing:border-box}
html{scroll-padding-top:7rem}
body{margin:0;background:var(--paper);color:var(--ink);font:1rem/1.45 system-ui,sans-serif;overflow-wrap:anywhere}
header,main{max-width:70rem;margin:0 auto;padding:1rem}
h1{font-size:1.5rem;line-height:1.2;margin:.2rem 0}
a{color:var(--sea)}
h2{font-size:1.2rem;margin:1.6rem 0 .6rem;color:var(--sea)}
h3{font-size:1.05rem;margin:0}
p{margin:.35rem 0}
.soft{color:var(--soft);font-size:.9rem}
.sum{display:flex;flex-wrap:wrap;gap:.5rem 1.6rem;margin:.6rem 0 0;padding:0;list-style:none}
.sum b{font-size:1.3rem;font-variant-numeric:tabular-nums;margin-right:.3rem}
nav{position:sticky;top:0;z-index:2;background:var(--paper);border-bottom:2px solid var(--sea)}
nav form{max-width:70rem;margin:0 auto;padding:.5rem 1rem;display:flex;flex-wrap:wrap;gap:.5rem;align-items:center}
nav input,nav select{font:inherit;color:inherit;background:var(--card);border:1px solid var(--line);border-radius:.4rem;
padding:.45rem .6rem;min-height:2.6rem}
nav input{flex:1 1 9rem;min-width:0}nav select{flex:1 1 7rem;min-width:0;max-width:100%}
@media(max-width:46rem){nav{position:static}nav input{flex-basis:100%}}
.jump{color:var(--sea);padding:.4rem 0;white-space:nowrap}
article{background:var(--card);border:1px solid var(--line);border-radius:.6rem;padding:.8rem;margin:0 0 .8rem;
content-visibility:auto;contain-intrinsic-size:auto 20rem}
.trouble{display:grid;align-items:start;grid-template-columns:6.5rem minmax(0,1fr);gap:.8rem;
border-left:.35rem solid var(--bumper)}
@media(min-width:60rem){.exceptions{display:grid;grid-template-columns:1fr 1fr;gap:.8rem;align-items:start}
.exceptions article{margin:0}}
.trouble .none{aspect-ratio:3/4;background:var(--wash);border-radius:.3rem;display:grid;place-items:center;
color:var(--soft);font-size:.8rem;text-align:center}
button.pic{padding:0;border:0;background:none;cursor:zoom-in;display:block;width:100%}
button.pic img{width:100%;height:auto;display:block;border-radius:.3rem}
button.pic:focus-visible,nav :focus-visible{outline:3px solid var(--sea);outline-offset:2px}
.name{font-family:ui-monospace,monospace;font-size:.8rem;color:var(--soft)}
.head{display:flex;flex-wrap:wrap;gap:.2rem .8rem;align-items:baseline;justify-content:space-between}
.legs{display:grid;gap:.8rem;margin-top:.6rem}
.leg{border-top:1px solid var(--line);padding-top:.6rem;display:grid;gap:.6rem}
@media(min-width:46rem){.leg{grid-template-columns:8rem minmax(0,1fr)}}
.phases{display:grid;gap:.7rem}
@media(min-width:46rem){.phases{grid-template-columns:repeat(auto-fit,minmax(17rem,1fr))}}
.phase{display:grid;grid-template-columns:6rem minmax(0,1fr);gap:.8rem;align-items:start}
@media(min-width:46rem){.phase{grid-template-columns:8.5rem minmax(0,24rem)}}
.what{font-size:.8rem;letter-spacing:.04em;color:var(--soft)}
.big{font-size:1.15rem;font-variant-numeric:tabular-nums;white-space:nowrap}
.chip{display:inline-block;border-radius:1rem;padding:.05rem .6rem;font-size:.85rem;font-weight:600;color:var(--card);
background:var(--unknown)}
.plenty{background:var(--plenty)}.window{background:var(--window)}.between{background:var(--between)}
.bumper{background:var(--bumper)}.bottomed{background:var(--bottomed)}
dl{display:grid;grid-template-columns:auto auto;gap:.05rem .6rem;margin:.3rem 0;font-size:.9rem;
font-variant-numeric:tabular-nums;justify-content:start}
dt{color:var(--soft)}dd{margin:0}
.stroke{display:block;width:100%;height:1.5rem;margin:.3rem 0}
.notes{margin:.6rem 0 0;padding-left:1.1rem;font-size:.9rem}
.flag{color:var(--bottomed);font-weight:600}
details summary{cursor:pointer;color:var(--sea);font-size:.85rem;min-height:1.6rem}
table{border-collapse:collapse;font-variant-numeric:tabular-nums;width:100%;font-size:.92rem}
th,td{text-align:right;padding:.3rem .5rem;border-bottom:1px solid var(--line)}
th:first-child,td:first-child{text-align:left}th{font-weight:400;color:var(--soft)}
.wide{overflow-x:auto}
.spread{width:100%;min-width:30rem;max-width:44rem;height:auto;display:block}
.spread text{fill:var(--soft);font-size:12px}
dialog{border:0;padding:0;margin:0;width:100vw;height:100vh;max-width:none;max-height:none;background:#000e}
dialog .pan{width:100%;height:100%;overflow:auto;display:grid}
dialog img{max-width:100%;max-height:100vh;margin:auto;cursor:zoom-in}
dialog.near img{max-width:none;max-height:none;width:260%;cursor:zoom-out}
dialog button{position:fixed;top:.6rem;right:.6rem;font:inherit;padding:.5rem .9rem;border:0;border-radius:.4rem;
background:#fff;color:#111}
[hidden]{display:none!important}
@media print{nav,dialog{display:none}article{break-inside:avoid;content-visibility:visible}}
"""

SCRIPT = """
(function(){
var find=document.getElementById('find'),show=document.getElementById('show'),sort=document.getElementById('sort');
var list=document.getElementById('bikes'),none=document.getElementById('none');
var bikes=[].slice.call(list.querySelectorAll('article')),
  troubles=[].slice.call(document.querySelectorAll('.trouble'));
function has(one,words){return words.every(function(w){return one.dataset.text.indexOf(w)>=0})}
function apply(){
  var words=find.value.toLowerCase().normalize('NFC').split(/\\s+/).filter(Boolean),kind=show.value,count=0;
  troubles.forEach(function(t){t.hidden=!has(t,words)||(kind!==''&&kind!=='trouble')});
  bikes.forEach(function(b){
    var fits=kind===''||(' '+b.dataset.kinds+' ').indexOf(' '+kind+' ')>=0;
    b.hidden=!fits||!has(b,words);if(!b.hidden)count++});
  none.hidden=count>0;
  var by=sort.value;
  bikes.sort(function(a,b){
    if(by==='label')return a.dataset.label.localeCompare(b.dataset.label,undefined,{numeric:true});
    var x=Number(a.dataset[by]),y=Number(b.dataset[by]);return by==='card'?x-y:y-x});
  bikes.forEach(function(b){list.appendChild(b)});
  try{history.replaceState(null,'','#'+[find.value,kind,by].map(encodeURIComponent).join('&'))}catch(e){}
}
var kept=location.hash.slice(1).split('&');
if(kept.length===3){try{kept=kept.map(decodeURIComponent);find.value=kept[0];show.value=kept[1];sort.value=kept[2]}
catch(e){}}
if(!show.value)show.value='';if(!sort.value)sort.value='card';
[find,show,sort].forEach(function(e){e.addEventListener('input',apply)});
document.querySelector('nav form').addEventListener('submit',function(e){e.preventDefault()});
apply();
var box=document.getElementById('zoom'),big=box.querySelector('img');
document.addEventListener('click',function(e){
  var b=e.target.closest('button.pic');if(!b)return;
  var small=b.querySelector('img');big.src=small.src;big.alt=small.alt;box.className='';box.showModal()});
big.addEventListener('click',function(){box.classList.toggle('near')});
box.querySelector('button').addEventListener('click',function(){box.close()});
box.addEventListener('close',function(){big.removeAttribute('src')});
var again=Number(document.body.dataset.reload);
if(again)setInterval(function(){if(!box.open&&document.activeElement!==find)location.reload()},again*1000);
})();
"""
