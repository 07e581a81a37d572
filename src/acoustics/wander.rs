//! Rooms whose level comes and goes: what each rung is held against, and how sure that is.
//!
//! A rung is heard a minute after the standstill it is held against, and a room is seldom the same for so
//! long: traffic, wind, air conditioning. The pauses between the moves tell by how much it wanders, and the ones
//! beside a rung how it was then. Of the level beside a rung both are estimates, the long standstill and the
//! short pauses; they are weighed by how far each may be off (the mean of two independent estimates with the
//! least variance). In a room that does not wander the standstill alone counts.

use super::levels::Mean;

/// Pauses so far from a rung are still beside it, in s.
pub const BESIDE_S: f64 = 4.0;
/// Of numbers from a normal distribution the middle half is so wide, in standard deviations.
const MIDDLE_HALF: f64 = 1.349;
/// From fewer pauses nothing is known of how they wander.
const LEAST_PAUSES: usize = 8;

/// A room wanders if the variance of its pauses is so many times what chance makes of it: few of them know theirs
/// badly.
const CLEARLY: f64 = 4.0;

/// The variance of a room's energy from one pause to the next, beyond what chance makes of their short lengths.
/// By the middle half of them, so that a few with a cough in it do not count.
pub fn wandering(pauses: &[Mean]) -> f64 {
    if pauses.len() < LEAST_PAUSES {
        return 0.0;
    }
    let quartile = |of: fn(&Mean) -> f64, share: usize| {
        let mut all: Vec<f64> = pauses.iter().map(of).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() * share / 4).copied().unwrap_or(0.0)
    };
    let energy = |pause: &Mean| pause.energy;
    let spread = (quartile(energy, 3) - quartile(energy, 1)) / MIDDLE_HALF;
    let by_chance = quartile(|pause| pause.sigma, 2);
    let (spread, by_chance) = (spread * spread, by_chance * by_chance);
    if spread < CLEARLY * by_chance {
        return 0.0;
    }
    spread - by_chance
}

/// The background beside a rung: `still` is the long standstill, `beside` the pauses near to it, and `variance`
/// by how much the room wanders between them.
pub fn beside(still: &Mean, beside: &Mean, variance: f64) -> Mean {
    let far = still.sigma * still.sigma + variance;
    let near = beside.sigma * beside.sigma;
    if beside.seconds <= 0.0 || far + near <= 0.0 {
        return Mean {
            sigma: far.sqrt(),
            ..*still
        };
    }
    let share = match variance > 0.0 {
        true => far / (far + near),
        false => 0.0,
    };
    Mean {
        energy: share * beside.energy + (1.0 - share) * still.energy,
        sigma: (share * share * near + (1.0 - share).powi(2) * far).sqrt(),
        seconds: still.seconds,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn mean(energy: f64, sigma: f64) -> Mean {
        Mean {
            energy,
            sigma,
            seconds: 1.0,
        }
    }

    /// Steps of the standard normal distribution at (n + 1/2) / 40 have its quartiles (0.6745 from memory).
    fn spread(sigma: f64, own: f64) -> Vec<Mean> {
        let steps = [0.063, 0.19, 0.32, 0.45, 0.6, 0.75, 0.93, 1.15, 1.44, 1.96];
        let both = steps.iter().flat_map(|x| [*x, -*x]);
        both.map(|x| mean(10.0 + x * sigma, own)).collect()
    }

    #[test]
    fn a_room_wanders_by_what_chance_does_not_make() {
        assert_eq!(wandering(&spread(0.5, 0.5)[..4]), 0.0, "too few");
        assert_eq!(wandering(&spread(0.5, 0.3)), 0.0, "chance");
        let mut room = spread(0.5, 0.2);
        assert_relative_eq!(wandering(&room), 0.21, max_relative = 0.3);
        let without = wandering(&room);
        room[19].energy = 1e6;
        assert_relative_eq!(wandering(&room), without, max_relative = 0.15);
    }

    #[test]
    fn a_steady_room_is_held_against_the_long_standstill() {
        let still = mean(10.0, 0.1);
        assert_eq!(beside(&still, &mean(11.0, 0.2), 0.0), still);
    }

    #[test]
    fn a_room_that_wanders_is_what_it_is_beside_the_rung() {
        let still = mean(10.0, 0.1);
        let near = beside(&still, &mean(13.0, 0.2), 4.0);
        assert!((12.9..13.0).contains(&near.energy), "{near:?}");
        assert!((0.19..0.2).contains(&near.sigma), "{near:?}");
        // Without pauses nearby nothing is known but by how much it may be off.
        let far = beside(&still, &Mean::default(), 4.0);
        assert_relative_eq!(far.sigma, 4.01_f64.sqrt(), max_relative = 1e-9);
        assert_eq!(far.energy, 10.0);
    }
}
