//! Least squares over any columns by Householder QR: polynomials, and whatever else is linear in its coefficients.
//! The plain line has its own file, where its bands meet limits.

use nalgebra::{DMatrix, DVector};

use super::line::Band;
use super::{Confidence, FitError, MAX_POINTS, Point, check_points, count};
use crate::formulas::all_finite;

/// Most coefficients a fit takes.
pub const MAX_TERMS: usize = 12;

/// A fit y = Σ coefficient · column.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Coefficients with their standard errors, in order of the columns.
    pub terms: Vec<Term>,
    /// Standard deviation of the residuals: √(RSS / freedom).
    pub residual_sd: f64,
    /// Sum of the squared residuals.
    pub residual_sum: f64,
    /// Share of the spread of y explained: about the mean with a constant column, else about zero. `None` when y has
    /// no spread.
    pub r_squared: Option<f64>,
    /// Points fitted.
    pub points: usize,
    /// Points less coefficients.
    pub freedom: usize,
    /// y less fitted value, in order of the points.
    pub residuals: Vec<f64>,
    /// Inverse of R with the columns' scales taken out: (XᵀX)⁻¹ is this times its transpose.
    root: DMatrix<f64>,
}

/// A coefficient and its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term {
    /// The coefficient.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
}

/// Fits y = Σ bₖ · columns[k] by least squares.
///
/// Columns are scaled to unit length, factored by Householder QR and solved; one step of refinement on the residuals
/// follows. u(bₖ) = s·√[(XᵀX)⁻¹]ₖₖ with s² = RSS/(n − p).
///
/// # Errors
/// No column or more than [`MAX_TERMS`] (said as points missing or as dependent terms), columns of another length than
/// `y`, no more points than coefficients, numbers that are not finite, columns that depend on each other.
///
/// # Source
/// G. H. Golub and C. F. Van Loan, *Matrix Computations* (2013), 5.3; checked against NIST StRD Wampler1 and Wampler4.
///
/// ```
/// use preen_domain::formulas::trend::least_squares::least_squares;
/// // y = 2 + 3x exactly, with one reading off by 0.
/// let fit = least_squares(&[vec![1.0; 4], vec![0.0, 1.0, 2.0, 3.0]], &[2.0, 5.0, 8.0, 11.0])?;
/// assert!((fit.terms[0].value - 2.0).abs() < 1e-12 && (fit.terms[1].value - 3.0).abs() < 1e-12);
/// # Ok::<(), preen_domain::formulas::trend::FitError>(())
/// ```
pub fn least_squares(columns: &[Vec<f64>], y: &[f64]) -> Result<Fit, FitError> {
    let (n, p) = (y.len(), columns.len());
    if n <= p || p == 0 {
        return Err(FitError::TooFewPoints { given: n, needed: p.max(1) + 1 });
    }
    if n > MAX_POINTS {
        return Err(FitError::TooManyPoints);
    }
    if p > MAX_TERMS {
        return Err(FitError::Dependent);
    }
    for (index, value) in y.iter().enumerate() {
        let at = |column: &Vec<f64>| column.get(index).is_some_and(|x| x.is_finite());
        if !value.is_finite() || !columns.iter().all(at) {
            return Err(FitError::NotFinite { point: index + 1 });
        }
    }
    if columns.iter().any(|column| column.len() != n) {
        return Err(FitError::TooFewPoints {
            given: n,
            needed: columns.iter().map(Vec::len).max().unwrap_or(0),
        });
    }
    let scales: Vec<f64> = columns.iter().map(|column| length(column)).collect();
    if !scales.iter().all(|scale| scale.is_normal()) {
        return Err(if scales.contains(&0.0) { FitError::Dependent } else { FitError::Scale });
    }
    let scaled =
        columns.iter().zip(&scales).flat_map(|(column, scale)| column.iter().map(move |x| x / scale));
    let design = DMatrix::from_iterator(n, p, scaled);
    let wanted = DVector::from_column_slice(y);
    let qr = design.clone().qr();
    let r = qr.r();
    let least = r.diagonal().iter().fold(f64::INFINITY, |least, value| least.min(value.abs()));
    if least <= f64::EPSILON * count(n) {
        return Err(FitError::Dependent);
    }
    let solve = |of: &DVector<f64>| {
        let mut turned = of.clone();
        qr.q_tr_mul(&mut turned);
        r.solve_upper_triangular(&turned.rows(0, p).into_owned()).ok_or(FitError::Dependent)
    };
    let first = solve(&wanted)?;
    let refined = &first + solve(&(&wanted - &design * &first))?;
    let residuals: Vec<f64> = (&wanted - &design * &refined).iter().copied().collect();
    let residual_sum: f64 = residuals.iter().map(|off| off * off).sum();
    let freedom = n - p;
    let residual_sd = (residual_sum / count(freedom)).sqrt();
    let mut root = r.solve_upper_triangular(&DMatrix::identity(p, p)).ok_or(FitError::Dependent)?;
    for (mut row, scale) in root.row_iter_mut().zip(&scales) {
        row /= *scale;
    }
    let terms: Vec<Term> = refined
        .iter()
        .zip(&scales)
        .zip(root.row_iter())
        .map(|((value, scale), row)| Term { value: value / scale, se: residual_sd * row.norm() })
        .collect();
    let fit = Fit {
        r_squared: explained(columns, y, residual_sum),
        terms,
        residual_sd,
        residual_sum,
        points: n,
        freedom,
        residuals,
        root,
    };
    let is_finite = fit.terms.iter().all(|term| all_finite(&[term.value, term.se]));
    if is_finite && all_finite(&[residual_sum, residual_sd]) && all_finite(fit.root.as_slice()) {
        Ok(fit)
    } else {
        Err(FitError::Scale)
    }
}

/// Fits a polynomial y = Σ bₖ xᵏ, k = 0 … `degree`.
///
/// # Errors
/// As [`least_squares`]; a degree too high for the points.
///
/// ```
/// use preen_domain::formulas::trend::{Point, least_squares::fit_polynomial};
/// let points = [-1.0, 0.0, 1.0, 2.0].map(|x: f64| Point::new(x, 1.0 + x * x));
/// let terms = fit_polynomial(&points, 2)?.terms;
/// assert!((terms[0].value - 1.0).abs() < 1e-12 && terms[1].value.abs() < 1e-12);
/// # Ok::<(), preen_domain::formulas::trend::FitError>(())
/// ```
pub fn fit_polynomial(points: &[Point], degree: usize) -> Result<Fit, FitError> {
    if degree >= MAX_TERMS {
        return Err(FitError::Dependent);
    }
    check_points(points, degree + 2)?;
    let rows: Vec<Vec<f64>> = points.iter().map(|point| powers(point.x, degree)).collect();
    let columns: Vec<Vec<f64>> =
        (0..=degree).map(|k| rows.iter().filter_map(|row| row.get(k).copied()).collect()).collect();
    if !columns.iter().all(|column| all_finite(column)) {
        return Err(FitError::Scale);
    }
    let y: Vec<f64> = points.iter().map(|point| point.y).collect();
    least_squares(&columns, &y)
}

/// 1, x, x² … x^degree: the row of a polynomial at `x`.
#[must_use]
pub fn powers(x: f64, degree: usize) -> Vec<f64> {
    std::iter::successors(Some(1.0), |power| Some(power * x)).take(degree + 1).collect()
}

impl Fit {
    /// The fitted value at a row of columns; missing columns count as zero.
    #[must_use]
    pub fn at(&self, row: &[f64]) -> f64 {
        self.terms.iter().zip(row).map(|(term, x)| term.value * x).sum()
    }

    /// Half the width of a band at a row of columns: t·s·√(q + rowᵀ(XᵀX)⁻¹row), q = 0 for the fit itself, 1 for the
    /// next reading.
    ///
    /// # Errors
    /// A level outside (0.5, 1); a row of another length; a width that is not finite.
    pub fn half_width(&self, row: &[f64], band: Band, confidence: Confidence) -> Result<f64, FitError> {
        if row.len() != self.terms.len() {
            return Err(FitError::Dependent);
        }
        let spread = self.root.tr_mul(&DVector::from_column_slice(row)).norm();
        let own = if band == Band::Reading { 1.0 } else { 0.0 };
        let width = confidence.t(self.freedom)? * self.residual_sd * spread.mul_add(spread, own).sqrt();
        if width.is_finite() { Ok(width) } else { Err(FitError::Scale) }
    }
}

/// Euclidean length without overflow on the way.
fn length(column: &[f64]) -> f64 {
    let largest = column.iter().fold(0.0f64, |largest, x| largest.max(x.abs()));
    if largest == 0.0 {
        return 0.0;
    }
    largest * column.iter().map(|x| (x / largest).powi(2)).sum::<f64>().sqrt()
}

fn explained(columns: &[Vec<f64>], y: &[f64], residual_sum: f64) -> Option<f64> {
    let is_constant = |column: &Vec<f64>| column.windows(2).all(|pair| pair.first() == pair.last());
    let mean = if columns.iter().any(is_constant) {
        y.iter().map(|value| value / count(y.len())).sum()
    } else {
        0.0
    };
    let total: f64 = y.iter().map(|value| (value - mean).powi(2)).sum();
    let has_spread = total > 0.0 && (mean == 0.0 || y.windows(2).any(|pair| pair.first() != pair.last()));
    let share = 1.0 - residual_sum / total;
    (has_spread && share.is_finite()).then(|| share.clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formulas::trend::line::fit_line;

    #[test]
    fn the_line_comes_out_alike_both_ways() {
        let points = [(0.0, 0.050), (6.0, 0.058), (10.0, 0.071), (14.0, 0.080), (16.0, 0.094), (19.0, 0.101)]
            .map(|(x, y)| Point::new(x, y));
        let (line, fit) =
            (fit_line(&points).expect("a line"), fit_polynomial(&points, 1).expect("a polynomial"));
        let close = |a: f64, b: f64| assert!((a - b).abs() <= 1e-12 * b.abs(), "{a} {b}");
        close(fit.terms[0].value, line.intercept);
        close(fit.terms[1].value, line.slope);
        close(fit.terms[1].se, line.slope_se);
        close(fit.terms[0].se, line.intercept_se.expect("with intercept"));
        close(fit.residual_sd, line.residual_sd);
        close(fit.r_squared.expect("spread"), line.r_squared.expect("spread"));
        for band in [Band::Mean, Band::Reading] {
            let of_line = line.half_width(30.0, band, Confidence::WEAR).expect("a width");
            close(fit.half_width(&powers(30.0, 1), band, Confidence::WEAR).expect("a width"), of_line);
        }
    }

    #[test]
    fn what_cannot_be_told_apart_is_refused() {
        let one = vec![1.0; 4];
        let x = vec![0.0, 1.0, 2.0, 3.0];
        let twice = vec![1.0, 3.0, 5.0, 7.0];
        let y = [1.0, 2.0, 3.0, 5.0];
        let check = |columns: &[Vec<f64>], expected| {
            assert_eq!(least_squares(columns, &y).map(|fit| fit.points), Err(expected));
        };
        check(&[one.clone(), x.clone(), twice], FitError::Dependent);
        check(&[one.clone(), vec![0.0; 4]], FitError::Dependent);
        check(&[], FitError::TooFewPoints { given: 4, needed: 2 });
        check(
            &[one.clone(), one.clone(), one.clone(), one.clone()],
            FitError::TooFewPoints { given: 4, needed: 5 },
        );
        check(&[one.clone(), vec![0.0, 1.0, f64::NAN, 2.0]], FitError::NotFinite { point: 3 });
        check(&[one, vec![0.0; 3]], FitError::NotFinite { point: 4 });
        let far = [0.0, 1.0, 2.0, 1e200].map(|x| Point::new(x, 1.0));
        assert_eq!(fit_polynomial(&far, 2).map(|fit| fit.points), Err(FitError::Scale));
        assert_eq!(fit_polynomial(&far, 40).map(|fit| fit.points), Err(FitError::Dependent));
    }
}
