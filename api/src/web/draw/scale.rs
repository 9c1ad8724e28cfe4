//! From numbers to places on a drawing, and round numbers for its axes.

/// A straight scale from values to places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    from: f64,
    per_unit: f64,
    at: f64,
}

impl Scale {
    /// From `low` at place `start` to `high` at place `end`. Where both are the same, all lies in the middle.
    pub fn new((low, high): (f64, f64), (start, end): (f64, f64)) -> Self {
        let width = high - low;
        if width.abs() < f64::EPSILON {
            return Self { from: low, per_unit: 0.0, at: f64::midpoint(start, end) };
        }
        Self { from: low, per_unit: (end - start) / width, at: start }
    }

    /// Where a value lies, to a tenth.
    pub fn at(self, value: f64) -> f64 {
        tenth(self.at + (value - self.from) * self.per_unit)
    }
}

/// Rounded to tenths, never minus zero.
pub fn tenth(value: f64) -> f64 {
    let rounded = (value * 10.0).round() / 10.0;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// Round numbers inside a range, about so many: steps of 1, 2 or 5 times a power of ten.
///
/// Fewer than two come only of a range that is not one.
pub fn ticks(low: f64, high: f64, about: u32) -> Vec<f64> {
    let width = high - low;
    if !width.is_finite() || width <= 0.0 || about == 0 {
        return Vec::new();
    }
    let rough = width / f64::from(about);
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].iter().map(|one| one * power).find(|step| *step >= rough);
    let step = step.unwrap_or(10.0 * power);
    let mut made = Vec::new();
    let mut value = (low / step).ceil() * step;
    while value <= high + step * 1e-9 && made.len() < 100 {
        made.push((value / step).round() * step);
        value += step;
    }
    made
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(ticks(0.0, 10.0, 5), vec![0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(ticks(91.2, 99.8, 4), vec![95.0]);
        assert_eq!(ticks(0.02, 0.071, 5), vec![0.02, 0.04, 0.06]);
        assert!(ticks(1.0, 1.0, 5).is_empty());
        assert!(ticks(0.0, f64::NAN, 5).is_empty());
    }

    #[test]
    fn a_scale_meets_its_ends() {
        let scale = Scale::new((10.0, 20.0), (100.0, 0.0));
        assert_eq!(scale.at(10.0), 100.0);
        assert_eq!(scale.at(20.0), 0.0);
        assert_eq!(Scale::new((3.0, 3.0), (0.0, 10.0)).at(3.0), 5.0);
    }
}
