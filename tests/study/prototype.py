import sys,time,collections,statistics as st
sys.path[:0]=['/work/main','/work/main/tests','/work/main/host']
from inprocess import sweep_here, part
from virtual_fixture.inproc import Fixture
from virtual_fixture.chips import load
from study.truths import Truths
marks=sys.argv[1].split(','); n=int(sys.argv[2])
inside=collections.defaultdict(list); zs=collections.defaultdict(list); err=collections.defaultdict(list)
for seed in range(n):
    m=marks[seed%len(marks)]
    with Fixture(seed=seed+int(sys.argv[3])) as f:
        chip=load({"part":m},seed=seed)
        f.insert(chip) if False else f.insert(chip)
        rails=[]
        orig=f.listen
        def listen(*a,**k):
            r=orig(*a,**k)
            if f.icc_v>0.01:
                p=part(m); 
                ns=f.node
                pass
                rails.append((ns(24)-ns(len(p.pins)//2)))
            return r
        f.listen=listen
        rec=sweep_here(f,m).record
        hi=[r for r in rails if r>4.5]
        sup=st.median(hi) if hi else None
        t=Truths(chip,part(m))
        ms=list(getattr(rec,'measured',()))+[x for p in rec.pins for x in p.measured]
        for x in ms:
            try: tr=t.of(x,sup)
            except Exception as e: print(x.name,x.pin,repr(e)); continue
            if tr is None: continue
            d=x.value.value-tr; inside[x.name].append(abs(d)<=x.value.u); zs[x.name].append(2*d/x.value.u if x.value.u else 99); err[x.name].append(abs(d))
            if abs(d)>2.5*x.value.u and '-v' in sys.argv: print(seed,m,x.name,x.pin,x.state,x.how,'meas',x.value.value,'u',x.value.u,'true',tr,'sup',sup)
for k,v in sorted(inside.items()):
    e=sorted(err[k]); print(f"{k:5} n {len(v):5} inside {100*sum(v)/len(v):.1f}%  mean z {st.mean(zs[k]):+.2f} sd z {st.pstdev(zs[k]):.2f}  |err| 95% {e[int(.95*len(e))]:.3g}")
