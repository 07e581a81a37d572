//! exploration
use stillhand_engine::motion::axis::*;
use stillhand_engine::motion::sets::Sets;
use stillhand_engine::rig::*;
use stillhand_engine::units::*;
struct R(u64);
impl R {
    fn f(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn lg(&mut self, a: f64, b: f64) -> f64 {
        (a.ln() + (b.ln() - a.ln()) * self.f()).exp()
    }
}
fn set(a: f64, j: f64) -> LimitSet {
    LimitSet {
        accel: Accel(a),
        jerk: Jerk(j),
    }
}
#[test]
fn ends() {
    let mut worst = (0.0f64, 0.0f64, 0.0f64, 0, 0.0f64, 0);
    let mut lates = 0;
    let mut shortw = 0.0f64;
    for seed in 1..2000u64 {
        let mut r = R(seed * 7919 + 12345);
        for _ in 0..5 {
            r.f();
        }
        let dt = [0.001, 0.004, 0.004, 0.02][(r.f() * 4.0) as usize];
        let v = r.lg(0.2, 180.0);
        let tg = r.lg(0.1, 3.0);
        let tl = r.lg(0.1, 3.0);
        let g = set(1.5 * v / tg, 4.5 * v / tg / tg);
        let l = set(1.5 * v / tl, 4.5 * v / tl / tl);
        let k = r.lg(1.0, 8.0);
        let k2 = r.lg(1.0, 8.0);
        let n = set(g.accel.0.max(l.accel.0), g.jerk.0.max(l.jerk.0));
        let s = set(n.accel.0 * k, n.jerk.0 * k2);
        let cpu = r.lg(5.0, 2000.0);
        let facts = AxisFacts {
            limits: Limits::new(n, s, s).unwrap(),
            ends: Ends::new(Pos(-50.0), Pos(50.0)),
            count: 1.0 / cpu,
            hold_s: 0.08 + 2.0 * dt,
        };
        let mut ax = AxisMotion::at_rest();
        let mut p = 0.0;
        let mut vp = 0.0;
        let mut ap = 0.0;
        let mut peak = -1e9f64;
        let dir = if r.f() < 0.5 { 1.0 } else { -1.0 };
        let mut signs = 0;
        let mut last = 0.0;
        let q = 1.0 / 1024.0 / cpu;
        let mut maxj = 0.0f64;
        let mut maxa = 0.0f64;
        let mut rb = 0.0f64;
        let steps = ((20.0 + 100.0 / v) / dt) as usize;
        for i in 0..steps {
            let c = ax.step(
                &facts,
                &Order {
                    target: dir * v,
                    sets: Sets { gain: g, lose: l },
                    dt,
                    position: p,
                },
            );
            if c == Some(Change::Late) {
                lates += 1;
                if lates < 5 {
                    println!("late seed {seed} i {i} p {p} v {} dt {dt}", ax.motion().v)
                }
            }
            let vn = ax.motion().v;
            let a = (vn - vp) / dt;
            let j = (a - ap) / dt;
            if i > 1 {
                if j.abs() > 1.3 * n.jerk.0 + 8.0 * q / dt / dt {
                    println!(
                        "jerk seed {seed} dt {dt} i {i} p {p} v {vn} vp {vp} a {a} ap {ap} j/n {} late {}",
                        j / n.jerk.0,
                        c == Some(Change::Late)
                    );
                }
                maxj = maxj.max(j.abs() / n.jerk.0);
                maxa = maxa.max(a.abs() / n.accel.0);
                if j.abs() > 4.0 * q / dt / dt + 1e-6 * n.jerk.0 {
                    if j * last < 0.0 {
                        signs += 1;
                    }
                    last = j;
                }
            }
            vp = vn;
            ap = a;
            p += vn * dt;
            let pp = p * dir;
            if pp > peak {
                peak = pp
            };
            rb = rb.max((peak - pp) * cpu);
        }
        let short = (50.0 - p * dir) * cpu;
        if peak * cpu > 50.0 * cpu + 0.0 {
            println!("seed {seed} over by {} counts", (peak - 50.0) * cpu)
        }
        if signs > 6 || short > 2.5 {
            println!(
                "seed {seed} dt {dt} v {v} tg {tg} tl {tl} cpu {cpu} signs {signs} short {short} maxj {maxj} maxa {maxa} rb {rb} vend {}",
                ax.motion().v
            );
        }
        worst.0 = worst.0.max(maxj);
        worst.1 = worst.1.max(maxa);
        worst.2 = worst.2.max(rb);
        worst.3 = worst.3.max(signs);
        shortw = shortw.max(short);
    }
    println!(
        "worst jerk {} acc {} runback {} signs {} short {} lates {lates}",
        worst.0, worst.1, worst.2, worst.3, shortw
    );
}
