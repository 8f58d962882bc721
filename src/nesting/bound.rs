//! The proven bound: what no answer can cost less than.
//!
//! Lagrangian relaxation of the demand rows (Geoffrion 1974; the bound of Gilmore and Gomory's column generation, 1961,
//! with a convexity row a class, Vance 1998). For any prices u >= 0 and any answer that makes at least d_i of every item,
//!
//!   cost = sum over used pieces (c_s - r_p) >= sum_i u_i d_i - sum over used pieces (u a_p + r_p - c_s)
//!        >= sum_i u_i d_i - sum_s n_s max(0, U_s(u) - c_s),
//!
//! where U_s(u) is any proven upper value of one piece's best layout, credit included. Prices are integers, U_s is rounded
//! up and c_s down by the engines, so the figure holds in integers as it stands; no solver's tolerance enters. Unlimited
//! pieces inside one layout only raise U_s. Bounds of different prices combine by taking the greatest.

use super::problem::{Kind, Problem};

/// The bound at some prices, from a proven upper value of one piece of every stock class; never below zero, since credit is
/// never more than the stock's cost.
///
/// `demanded` is what all that an answer makes is worth at least at the prices, `uppers` is parallel to `problem.stock`.
pub fn lagrangian(problem: &Problem, demanded: i128, uppers: &[i64]) -> i64 {
    let profit: i128 = problem
        .stock
        .iter()
        .zip(uppers)
        .map(|(stock, &upper)| i128::from(stock.count) * (i128::from(upper) - i128::from(stock.cost)).max(0))
        .sum();
    i64::try_from((demanded - profit).max(0)).unwrap_or(i64::MAX)
}

/// What the area of `made` pieces costs at least, kerfs included; zero unless all stock is sheets without credit.
///
/// The Lagrangian bound at prices in proportion to area: no sheet is worth more at them than it costs. There at once, before
/// any sheet is priced.
pub fn by_area(problem: &Problem, made: &[u32]) -> i64 {
    let mut cheapest: Option<(i128, i128)> = None;
    let mut areas: Vec<Option<i128>> = vec![None; made.len()];
    for stock in problem.stock.iter().filter(|stock| stock.count > 0) {
        let Kind::Sheet(sheet) = &stock.kind else { return 0 };
        if stock.credit.is_some() {
            return 0;
        }
        // Kerf k on (L, W, l, w) is kerf 0 on (L + k, W + k, l + k, w + k).
        let area = |length: i64, width: i64| i128::from(length + sheet.kerf.cross) * i128::from(width + sheet.kerf.rip);
        let whole = area(sheet.length - 2 * sheet.trim, sheet.width - 2 * sheet.trim);
        let cost = i128::from(stock.cost);
        if cheapest.is_none_or(|(c, w)| cost * w < c * whole) {
            cheapest = Some((cost, whole));
        }
        for piece in &sheet.pieces {
            let of = area(piece.length, piece.width);
            areas[piece.item] = Some(areas[piece.item].map_or(of, |least| least.min(of)));
        }
    }
    let Some((cost, whole)) = cheapest.filter(|&(_, whole)| whole > 0) else { return 0 };
    let all: i128 = areas.iter().zip(made).map(|(area, &n)| area.unwrap_or(0) * i128::from(n)).sum();
    // Sheets of 10 m by 10 m have areas below 2^63 and costs below 2^50: halve both until the product fits.
    let shift = (128 - all.leading_zeros() + 128 - cost.leading_zeros()).saturating_sub(126);
    i64::try_from(((all >> shift) * cost) / ((whole >> shift) + i128::from(shift > 0))).unwrap_or(i64::MAX)
}

/// The bound taken up to the next total that stock costs can add up to, where no offcut earns credit: a multiple of their
/// greatest common divisor.
pub fn attainable(problem: &Problem, bound: i64) -> i64 {
    fn gcd(a: i64, b: i64) -> i64 {
        if b == 0 { a } else { gcd(b, a % b) }
    }
    let measure = match problem.stock.iter().any(|stock| stock.credit.is_some()) {
        true => 1,
        false => problem.stock.iter().fold(0, |g, stock| gcd(g, stock.cost)).max(1),
    };
    bound.div_euclid(measure).saturating_add(i64::from(bound.rem_euclid(measure) > 0)).saturating_mul(measure)
}
