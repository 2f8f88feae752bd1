//! Who gets air when the blower cannot serve all.

use crate::units::FreeAir;

/// Halvings of the share of the class that has to give way: to 0.1 %.
const HALVINGS: usize = 10;

/// What one lift wants and what it must keep.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Claim {
    /// Air it wants.
    pub wanted: FreeAir,
    /// Air it must keep.
    pub floor: FreeAir,
    /// 1 is served before 2, 2 before 3.
    pub priority: u8,
}

impl Claim {
    fn at(&self, share: f32) -> FreeAir {
        let floor = if self.floor < self.wanted {
            self.floor
        } else {
            self.wanted
        };
        FreeAir::from_m3_s(floor.m3_s + share * (self.wanted.m3_s - floor.m3_s))
    }
}

/// Air for each lift, and whether any got less than it wanted.
///
/// If all can be served, all are. Else the class of the lowest priority gives way first, all its lifts by the same share of
/// what they want above their floor, down to the floor; then the next. If not even the floors can be served, all floors
/// are cut by one share.
#[must_use]
#[inline(never)]
pub fn share_out<const LIFTS: usize>(
    claims: &[Claim],
    can_serve: &dyn Fn(&[FreeAir; LIFTS]) -> bool,
) -> ([FreeAir; LIFTS], bool) {
    let with = |class: u8, share: f32, floors: f32| {
        let mut air = [FreeAir::ZERO; LIFTS];
        share_in(&mut air, claims, (class, share), floors);
        air
    };
    let all = with(u8::MAX, 1.0, 1.0);
    if can_serve(&all) {
        return (all, false);
    }
    // From the lowest priority up: the first class with which at its floor the others can be served has to give way.
    let mut class = u8::MAX;
    for _ in 0..LIFTS {
        let Some(next) = claims
            .iter()
            .map(|claim| claim.priority)
            .filter(|p| *p < class || class == u8::MAX)
            .max()
        else {
            break;
        };
        class = next;
        if can_serve(&with(class, 0.0, 1.0)) {
            return (largest(&|share| with(class, share, 1.0), can_serve), true);
        }
        if class == 0 {
            break;
        }
    }
    (largest(&|share| with(0, 0.0, share), can_serve), true)
}

/// What each is to get: all it wants where its priority comes before `class`, in that class its floor and a share of what it wants
/// beyond, after it its floor; and so much of all that.
#[inline(never)]
fn share_in(air: &mut [FreeAir], claims: &[Claim], (class, share): (u8, f32), floors: f32) {
    for (air, claim) in air.iter_mut().zip(claims) {
        let share = match claim.priority {
            p if p < class => 1.0,
            p if p == class => share,
            _ => 0.0,
        };
        *air = FreeAir::from_m3_s(claim.at(share).m3_s * floors);
    }
}

/// The largest share, within 0.1 %, that can be served.
#[inline(never)]
fn largest<const LIFTS: usize>(
    with: &dyn Fn(f32) -> [FreeAir; LIFTS],
    can_serve: &dyn Fn(&[FreeAir; LIFTS]) -> bool,
) -> [FreeAir; LIFTS] {
    let (mut low, mut high) = (0.0f32, 1.0f32);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if can_serve(&with(middle)) {
            low = middle;
        } else {
            high = middle;
        }
    }
    with(low)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn claim(wanted: f32, floor: f32, priority: u8) -> Claim {
        Claim {
            wanted: FreeAir::from_m3_s(wanted),
            floor: FreeAir::from_m3_s(floor),
            priority,
        }
    }

    fn shared(most: f32) -> ([f32; 3], bool) {
        let claims = [claim(1.0, 0.2, 1), claim(2.0, 0.2, 2), claim(3.0, 0.6, 2)];
        let (air, short) = share_out::<3>(&claims, &|air| air.iter().fold(0.0, |sum, a| sum + a.m3_s) <= most);
        (air.map(|a| a.m3_s), short)
    }

    #[test]
    fn with_enough_air_everyone_gets_what_they_want() {
        assert_eq!(shared(6.0), ([1.0, 2.0, 3.0], false));
    }

    #[test]
    fn the_lowest_priority_gives_way_together_and_the_first_keeps_its_air() {
        let (air, short) = shared(4.0);
        assert!(short);
        assert_eq!(air[0], 1.0);
        let given_up = |wanted: f32, floor: f32, got: f32| (wanted - got) / (wanted - floor);
        assert!((given_up(2.0, 0.2, air[1]) - given_up(3.0, 0.6, air[2])).abs() < 1.0e-6);
        let total: f32 = air.iter().sum();
        assert!((3.99..=4.0).contains(&total), "{total}");
    }

    #[test]
    fn floors_come_before_any_priority_and_are_cut_alike_when_all_else_fails() {
        let (air, _) = shared(1.2);
        assert!(air[1] >= 0.2 && air[2] >= 0.6 && air[0] < 1.0, "{air:?}");
        let (air, _) = shared(0.5);
        assert!((air[0] / air[2] - 0.2 / 0.6).abs() < 1.0e-5, "{air:?}");
        assert!(air.iter().sum::<f32>() <= 0.5);
    }
}
