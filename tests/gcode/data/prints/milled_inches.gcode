(a plate)
g20 g90 g17
f20
g0 x0.5 y0.5 z0.1
g1 z-0.02
g1 x2.5
y0.55
g1 x0.5
y0.6
g1 x2.5
y0.65
g1 x0.5
y0.7
g1 x2.5
y0.75
g1 x0.5
y0.8
g1 x2.5
y0.85
g1 x0.5
y0.9
g1 x2.5
y0.95
g1 x0.5
y1
g1 x2.5
y1.05
g1 x0.5
y1.1
g1 x2.5
y1.15
g1 x0.5
y1.2
g1 x2.5
y1.25
g1 x0.5
y1.3
g1 x2.5
y1.35
g1 x0.5
y1.4
g1 x2.5
y1.45
g1 x0.5
y1.5
m30
