//! A curve through points that never falls back between them.
//!
//! Piecewise cubic Hermite interpolation with the slopes of F. N. Fritsch and J. Butland, "A method
//! for constructing local monotone piecewise cubic interpolants", SIAM J. Sci. Stat. Comput. 5
//! (1984): the weighted harmonic mean of the neighbouring secants inside, the three-point formula
//! held to monotone at the ends. It is what scipy's `PchipInterpolator` does (from its
//! documentation), not the limiter of Fritsch and Carlson (1980).

/// Fewest points: with two it would be a line.
pub const LEAST_POINTS: usize = 3;
/// Most points: more than a hand can tell apart.
pub const MOST_POINTS: usize = 16;

/// A rising curve through [`LEAST_POINTS`] to [`MOST_POINTS`] points, from (0, 0) to (1, 1).
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Monotone {
    knots: [Knot; MOST_POINTS],
    count: u8,
}

#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Knot {
    x: f64,
    y: f64,
    slope: f64,
}

impl Monotone {
    /// The curve through `points`, which rise strictly both ways from (0, 0) to (1, 1); `None`
    /// otherwise.
    pub fn new(points: &[(f64, f64)]) -> Option<Monotone> {
        let fits = (LEAST_POINTS..=MOST_POINTS).contains(&points.len());
        let rising = points
            .windows(2)
            .all(|w| w[0].0 < w[1].0 && w[0].1 < w[1].1);
        let ends = points.first() == Some(&(0.0, 0.0)) && points.last() == Some(&(1.0, 1.0));
        if !fits || !rising || !ends {
            return None;
        }
        let nothing = Knot {
            x: 1.0,
            y: 1.0,
            slope: 0.0,
        };
        let mut knots = [nothing; MOST_POINTS];
        for (place, (knot, &(x, y))) in knots.iter_mut().zip(points).enumerate() {
            let slope = slope_at(points, place);
            *knot = Knot { x, y, slope };
        }
        Some(Monotone {
            knots,
            count: points.len() as u8,
        })
    }

    /// Whether it is a curve that [`Monotone::new`] makes: to be asked of one read back from bytes.
    pub fn is_sound(&self) -> bool {
        let mut points = [(0.0, 0.0); MOST_POINTS];
        let count = usize::from(self.count);
        if count > MOST_POINTS {
            return false;
        }
        for (point, knot) in points.iter_mut().zip(&self.knots) {
            *point = (knot.x, knot.y);
        }
        Monotone::new(&points[..count]).as_ref() == Some(self)
    }

    /// Its points, in rising order.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> {
        self.known().iter().map(|knot| (knot.x, knot.y))
    }

    fn known(&self) -> &[Knot] {
        &self.knots[..usize::from(self.count)]
    }

    /// The curve at `u`, 0..=1 to 0..=1.
    pub fn at(&self, u: f64) -> f64 {
        let after = self.known().iter().position(|knot| u < knot.x);
        // At 1 and beyond no knot is farther.
        let Some(after) = after.filter(|after| *after > 0) else {
            return if u < 0.5 { 0.0 } else { 1.0 };
        };
        let (from, to) = (self.knots[after - 1], self.knots[after]);
        let h = to.x - from.x;
        let secant = (to.y - from.y) / h;
        let s = u - from.x;
        let c = (3.0 * secant - 2.0 * from.slope - to.slope) / h;
        let d = (from.slope + to.slope - 2.0 * secant) / (h * h);
        let y = from.y + s * (from.slope + s * (c + s * d));
        // Rounding must not make the curve leave its piece.
        crate::units::held(y, from.y, to.y)
    }
}

/// The way to the next point, and the secant over it.
fn piece(points: &[(f64, f64)], place: usize) -> (f64, f64) {
    let (from, to) = (points[place], points[place + 1]);
    let h = to.0 - from.0;
    (h, (to.1 - from.1) / h)
}

fn slope_at(points: &[(f64, f64)], place: usize) -> f64 {
    let last = points.len() - 1;
    if place == 0 {
        return end_slope(piece(points, 0), piece(points, 1));
    }
    if place == last {
        return end_slope(piece(points, last - 1), piece(points, last - 2));
    }
    let ((h0, m0), (h1, m1)) = (piece(points, place - 1), piece(points, place));
    let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
    (w0 + w1) / (w0 / m0 + w1 / m1)
}

/// The three-point formula at an end whose own piece is `near`: never falling, and never so steep
/// that the curve overshoots. All secants are above 0 here.
fn end_slope((h0, m0): (f64, f64), (h1, m1): (f64, f64)) -> f64 {
    let slope = ((2.0 * h0 + h1) * m0 - h0 * m1) / (h0 + h1);
    crate::units::higher(slope, 0.0)
}
