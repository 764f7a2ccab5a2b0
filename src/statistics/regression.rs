//! Linear least squares by QR decomposition, with standard errors of the coefficients.

use nalgebra::{DMatrix, DVector};

/// The outcome of a least-squares fit of y = X·b.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Coefficients, one a column of the design.
    pub coefficients: Vec<f64>,
    /// Their standard errors: the residual variance times the diagonal of (XᵀX)⁻¹, square root.
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
    let fit = Fit {
        coefficients: rescaled(solution.iter().copied().collect()),
        standard_errors: rescaled(errors.collect()),
        residual_deviation: variance.sqrt(),
    };
    fit.coefficients
        .iter()
        .all(|c| c.is_finite())
        .then_some(fit)
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
