//! Marks: what was measured, what it is to reach, and the table of both.

/// What a measured figure is to reach.
#[derive(Clone, Copy, Debug)]
pub enum Sense {
    /// So much or more.
    AtLeast(f64),
    /// So much or less.
    AtMost(f64),
    /// Nothing is asked of it; it is told beside the others.
    Told,
}

/// One measured figure.
#[derive(Clone, Debug)]
pub struct Mark {
    /// Its number in the table.
    pub number: &'static str,
    /// What was measured.
    pub what: String,
    /// The figure, with its unit; of a ratio `×`.
    pub figure: f64,
    /// Unit of the figure.
    pub unit: &'static str,
    /// What it is to reach.
    pub sense: Sense,
    /// What it was made of.
    pub made_of: String,
}

impl Mark {
    /// A ratio of two figures of one run.
    pub fn ratio(number: &'static str, what: &str, figure: f64, sense: Sense, made_of: String) -> Self {
        Self { number, what: what.to_owned(), figure, unit: "×", sense, made_of }
    }

    /// A figure with a unit.
    pub fn figure(
        number: &'static str,
        what: &str,
        figure: f64,
        unit: &'static str,
        sense: Sense,
        made_of: String,
    ) -> Self {
        Self { number, what: what.to_owned(), figure, unit, sense, made_of }
    }

    /// Whether it reaches what it is to reach; `None` where nothing is asked.
    pub fn is_reached(&self) -> Option<bool> {
        match self.sense {
            Sense::AtLeast(wanted) => Some(self.figure >= wanted),
            Sense::AtMost(wanted) => Some(self.figure <= wanted),
            Sense::Told => None,
        }
    }

    /// Its row in the table.
    pub fn row(&self) -> String {
        let number = |figure: f64| match figure.abs() {
            size if size >= 100.0 => format!("{figure:.0}"),
            size if size >= 10.0 => format!("{figure:.1}"),
            _ => format!("{figure:.2}"),
        };
        let wanted = match self.sense {
            Sense::AtLeast(wanted) => format!("≥ {wanted} {}", self.unit),
            Sense::AtMost(wanted) => format!("≤ {wanted} {}", self.unit),
            Sense::Told => String::new(),
        };
        let said = match self.is_reached() {
            Some(true) => "yes",
            Some(false) => "**no**",
            None => "",
        };
        format!(
            "| {} | {} | {} {} | {wanted} | {said} | {} |",
            self.number,
            self.what,
            number(self.figure),
            self.unit,
            self.made_of
        )
    }
}

/// The head of the table.
pub const HEAD: &str = "| mark | what | measured | to reach | reached | made of |\n|---|---|---|---|---|---|";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_says_whether_it_is_reached() {
        let mark = |figure, sense| Mark::ratio("1", "a thing", figure, sense, String::new());
        assert_eq!(mark(2.0, Sense::AtLeast(3.0)).is_reached(), Some(false));
        assert_eq!(mark(2.0, Sense::AtMost(3.0)).is_reached(), Some(true));
        assert_eq!(mark(2.0, Sense::Told).is_reached(), None);
        assert_eq!(mark(0.123, Sense::AtMost(3.0)).row(), "| 1 | a thing | 0.12 × | ≤ 3 × | yes |  |");
    }
}
