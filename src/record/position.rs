//! Positions of the driver's range control: which is the first, and their order.

use super::Shot;

/// Name of the position at which lamps are set: the highest aim.
pub(crate) const SETTING_POSITION: &str = "0";

/// Whether a lamp is judged as set up at this position: at position 0, or where the job names none.
pub(crate) fn is_setting(position: Option<&str>) -> bool {
    position.is_none_or(|name| name.trim() == SETTING_POSITION)
}

/// Puts positions in their order: those that are numbers by number, then the other names as they come.
pub(crate) fn in_order<T>(items: &mut [T], position: impl Fn(&T) -> &str) {
    // What is no number comes behind every number; the sort is stable.
    let number = |item: &T| position(item).trim().parse::<f64>().ok().filter(|n| n.is_finite());
    let key = |item: &T| number(item).unwrap_or(f64::INFINITY);
    items.sort_by(|a, b| key(a).total_cmp(&key(b)));
}

impl Shot {
    /// Whether a pump drove the beam: such a photo shows no position of the range control.
    #[must_use]
    pub fn is_pumped(&self) -> bool {
        self.sealed || self.vacuum.is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_go_by_number_and_names_behind_them_as_they_come() {
        let mut names = ["sport", "10", "2", "auto", "1.5", " 0", "inf"];
        in_order(&mut names, |name| name);
        assert_eq!(names, [" 0", "1.5", "2", "10", "sport", "auto", "inf"]);
    }

    #[test]
    fn the_setting_is_position_0_or_none() {
        for (position, setting) in [(None, true), (Some("0"), true), (Some(" 0 "), true), (Some("1"), false)] {
            assert_eq!(is_setting(position), setting, "{position:?}");
        }
    }
}
