//! Linear least squares by QR decomposition, with standard errors of the coefficients.

use nalgebra::{DMatrix, DVector};

/// Remainder of a column of length 1, after projection on the columns before it, up to which the column depends on them
/// (assumed, near rounding error).
const DEPENDENT: f64 = 1e-13;

/// The outcome of a least-squares fit of y = X·b.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Coefficients, one a column of the design.
    pub coefficients: Vec<f64>,
    /// Standard errors of the coefficients: square root of the residual variance times the diagonal of (XᵀX)⁻¹.
    pub standard_errors: Vec<f64>,
    /// Standard deviation of the residuals, with rows minus columns degrees of freedom.
    pub residual_deviation: f64,
}

/// Fits `response` by the columns of `design`; a constant term needs a column of ones.
///
/// `None` when the lengths differ, when there are not more rows than columns, or when columns depend on each other.
/// With X = QR the coefficients solve R·b = Qᵀy and (XᵀX)⁻¹ = R⁻¹R⁻ᵀ (Golub and Van Loan, *Matrix Computations*,
/// section 5.3). Columns are brought to equal length first, which keeps badly scaled data accurate.
pub fn least_squares(design: &DMatrix<f64>, response: &DVector<f64>) -> Option<Fit> {
    let (rows, columns) = design.shape();
    if rows != response.len() || rows <= columns || columns == 0 {
        return None;
    }
    let lengths: Vec<f64> = design.column_iter().map(|column| column.norm()).collect();
    let mut scaled = design.clone();
    for (mut column, length) in scaled.column_iter_mut().zip(&lengths) {
        column /= *length;
    }
    let (q, r) = scaled.clone().qr().unpack();
    let independent = r.diagonal().iter().all(|left| left.abs() >= DEPENDENT);
    if !independent {
        return None;
    }
    let solution = r.solve_upper_triangular(&(q.transpose() * response))?;
    let inverse = r.solve_upper_triangular(&DMatrix::identity(columns, columns))?;
    let residual = response - &scaled * &solution;
    let variance = residual.norm_squared() / (rows - columns) as f64;
    let rescaled = |values: Vec<f64>| -> Vec<f64> {
        values
            .iter()
            .zip(&lengths)
            .map(|(value, l)| value / l)
            .collect()
    };
    let errors = inverse.row_iter().map(|row| row.norm() * variance.sqrt());
    Some(Fit {
        coefficients: rescaled(solution.iter().copied().collect()),
        standard_errors: rescaled(errors.collect()),
        residual_deviation: variance.sqrt(),
    })
}

/// Slope of y over x in the points given as (x, y), with its standard error; needs three points that differ in x.
pub fn slope(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let first = points.first()?.0;
    let design = DMatrix::from_fn(points.len(), 2, |row, column| {
        let x = points.get(row).map_or(0.0, |point| point.0 - first);
        if column == 0 { 1.0 } else { x }
    });
    let response = DVector::from_iterator(points.len(), points.iter().map(|point| point.1));
    let fit = least_squares(&design, &response)?;
    Some((*fit.coefficients.get(1)?, *fit.standard_errors.get(1)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(text: &str) -> Vec<Vec<f64>> {
        text.lines()
            .filter(|line| !line.starts_with('#'))
            .map(|line| {
                line.split_whitespace()
                    .map(|f| f.parse().unwrap())
                    .collect()
            })
            .collect()
    }

    fn fit(text: &str, row: impl Fn(&[f64]) -> Vec<f64>) -> Fit {
        let numbers = numbers(text);
        let rows: Vec<Vec<f64>> = numbers.iter().map(|line| row(&line[1..])).collect();
        let design = DMatrix::from_fn(rows.len(), rows[0].len(), |i, j| rows[i][j]);
        let response = DVector::from_iterator(rows.len(), numbers.iter().map(|line| line[0]));
        least_squares(&design, &response).unwrap()
    }

    fn check(fit: &Fit, certified: &[(f64, f64)], deviation: f64, accuracy: f64) {
        assert_eq!(fit.coefficients.len(), certified.len());
        for (index, (value, error)) in certified.iter().enumerate() {
            let (found, found_error) = (fit.coefficients[index], fit.standard_errors[index]);
            assert!((found / value - 1.0).abs() < accuracy, "b{index} = {found}");
            assert!(
                (found_error / error - 1.0).abs() < accuracy,
                "se{index} = {found_error}"
            );
        }
        assert!((fit.residual_deviation / deviation - 1.0).abs() < accuracy);
    }

    /// NIST StRD, Norris: certified values.
    #[test]
    fn norris() {
        let fit = fit(include_str!("../../tests/data/nist_norris.txt"), |x| {
            vec![1.0, x[0]]
        });
        let certified = [
            (-0.262_323_073_774_029, 0.232_818_234_301_152),
            (1.002_116_818_020_45, 0.429_796_848_199_937e-3),
        ];
        check(&fit, &certified, 0.884_796_396_144_373, 1e-10);
    }

    /// NIST StRD, Pontius: certified values.
    #[test]
    fn pontius() {
        let fit = fit(include_str!("../../tests/data/nist_pontius.txt"), |x| {
            vec![1.0, x[0], x[0] * x[0]]
        });
        let certified = [
            (0.673_565_789_473_684e-3, 0.107_938_612_033_077e-3),
            (0.732_059_160_401_003e-6, 0.157_817_399_981_659e-9),
            (-0.316_081_871_345_029e-14, 0.486_652_849_992_036e-16),
        ];
        check(&fit, &certified, 0.205_177_424_076_185e-3, 1e-9);
    }

    /// NIST StRD, Longley (columns nearly depend on each other): certified values.
    #[test]
    fn longley() {
        let fit = fit(include_str!("../../tests/data/nist_longley.txt"), |x| {
            std::iter::once(1.0).chain(x.iter().copied()).collect()
        });
        let certified = [
            (-3_482_258.634_595_82, 890_420.383_607_373),
            (15.061_872_271_373_3, 84.914_925_774_766_9),
            (-0.358_191_792_925_910e-1, 0.334_910_077_722_432e-1),
            (-2.020_229_803_816_83, 0.488_399_681_651_699),
            (-1.033_226_867_173_59, 0.214_274_163_161_675),
            (-0.511_041_056_535_807e-1, 0.226_073_200_069_370),
            (1_829.151_464_613_55, 455.478_499_142_212),
        ];
        check(&fit, &certified, 304.854_073_561_965, 1e-7);
    }

    /// Through (0, 1), (1, 3), (2, 5.3), (3, 6.9): slope 2.0, residuals −0.05, −0.05, 0.25, −0.15, error √(0.09/2/5).
    #[test]
    fn a_slope_by_hand() {
        let (slope, error) = slope(&[(0.0, 1.0), (1.0, 3.0), (2.0, 5.3), (3.0, 6.9)]).unwrap();
        assert!((slope - 2.0).abs() < 1e-12);
        assert!((error - (0.09_f64 / 2.0 / 5.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_fitted_gives_nothing() {
        assert_eq!(slope(&[(0.0, 1.0), (1.0, 2.0)]), None);
        assert_eq!(slope(&[(1.0, 1.0), (1.0, 2.0), (1.0, 3.0)]), None);
        let design = DMatrix::from_element(4, 2, 1.0);
        assert_eq!(least_squares(&design, &DVector::from_element(4, 1.0)), None);
        assert_eq!(least_squares(&design, &DVector::from_element(3, 1.0)), None);
    }
}
