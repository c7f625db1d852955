//! Decimal points or decimal commas: what all numbers of a file tell together.

use super::record::Cell;
use crate::input::diagnostics::Diagnostic;

/// What stands before the decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum DecimalSign {
    Point,
    Comma,
}

impl DecimalSign {
    /// How to name it, if it is not the plain one.
    pub(super) fn unusual(self) -> Option<&'static str> {
        (self == Self::Comma).then_some("decimal commas")
    }

    /// A number with a decimal point.
    pub(super) fn pointed(self, text: &str) -> String {
        match self {
            Self::Point => text.to_owned(),
            Self::Comma => text.replacen(',', ".", 1),
        }
    }
}

/// What the signs of one number tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Signs {
    /// There are none.
    Whole,
    /// One decimal point.
    Point,
    /// One comma that no grouping of thousands could have.
    DecimalComma,
    /// One comma, with three digits behind it: 1,234 may be 1.234 or 1234.
    AnyComma,
    /// More than one sign: thousands are grouped.
    Grouped,
}

fn signs(number: &str) -> Signs {
    let end = number.find(|c: char| !c.is_ascii_digit() && !",.+-−".contains(c));
    let (mantissa, rest) = number.split_at(end.unwrap_or(number.len()));
    let mantissa = mantissa.trim_start_matches(['+', '-', '−']);
    let mut found = mantissa.matches([',', '.']);
    match (found.next(), found.next()) {
        (None, _) => Signs::Whole,
        (Some(_), Some(_)) => Signs::Grouped,
        (Some("."), None) => Signs::Point,
        (Some(_), None) => {
            let (whole, decimals) = mantissa.split_once(',').unwrap_or((mantissa, ""));
            let could_group = (1..=3).contains(&whole.len())
                && !whole.starts_with('0')
                && decimals.len() == 3
                // No spreadsheet groups the digits of a number with an exponent (common practice).
                && !rest.starts_with(['e', 'E']);
            if could_group { Signs::AnyComma } else { Signs::DecimalComma }
        }
    }
}

/// The decimal sign of a file. One comma that can only be a decimal one decides for all of them; where none of
/// these does, one of the `others`, cells of columns that are not read.
pub(super) fn of<'a>(
    cells: impl Iterator<Item = &'a Cell>,
    others: impl Iterator<Item = Cell>,
    errors: &mut Vec<Diagnostic>,
) -> Option<DecimalSign> {
    let before = errors.len();
    let (mut point, mut comma, mut is_decided) = (None, None, false);
    for cell in cells {
        match signs(&cell.text) {
            Signs::Whole => {}
            Signs::Point => point = point.or(Some(cell)),
            found @ (Signs::DecimalComma | Signs::AnyComma) => {
                comma = comma.or(Some(cell));
                is_decided |= found == Signs::DecimalComma;
            }
            Signs::Grouped => errors.push(grouped(cell)),
        }
    }
    let sign = match (point, comma) {
        (Some(point), Some(comma)) => {
            errors.push(mixed(point, comma));
            DecimalSign::Point
        }
        (None, Some(comma)) => {
            if !is_decided && !have_commas(others) {
                errors.push(undecided(comma));
            }
            DecimalSign::Comma
        }
        (_, None) => DecimalSign::Point,
    };
    (errors.len() == before).then_some(sign)
}

/// Whether numbers among these cells have decimal commas, and none a decimal point.
fn have_commas(cells: impl Iterator<Item = Cell>) -> bool {
    let mut found = false;
    for cell in cells.filter(|cell| DecimalSign::Comma.pointed(&cell.text).parse::<f64>().is_ok()) {
        match signs(&cell.text) {
            Signs::Point => return false,
            Signs::DecimalComma => found = true,
            Signs::Whole | Signs::AnyComma | Signs::Grouped => {}
        }
    }
    found
}

fn grouped(cell: &Cell) -> Diagnostic {
    Diagnostic::new(
        cell.span.clone(),
        format!("`{}` has more than one point or comma", cell.quoted()),
        "expected one decimal sign and no signs between thousands",
    )
}

fn mixed(point: &Cell, comma: &Cell) -> Diagnostic {
    let (first, second) =
        if point.span.start < comma.span.start { (point, comma) } else { (comma, point) };
    Diagnostic::new(
        second.span.clone(),
        format!(
            "`{}` has another decimal sign than `{}` before it",
            second.quoted(),
            first.quoted()
        ),
        "expected decimal points in all numbers, or decimal commas in all",
    )
}

fn undecided(comma: &Cell) -> Diagnostic {
    let (text, whole) = (&comma.text, comma.text.replace(',', ""));
    let decimal = text.replace(',', ".");
    Diagnostic::new(
        comma.span.clone(),
        format!("`{text}` may be {decimal} or {whole}"),
        "expected a decimal point, or a decimal comma that nothing else in the file leaves open",
    )
    .with_help(Some(format!("write {decimal} or {whole}, and the other numbers alike")))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(texts: &[&str]) -> Vec<Cell> {
        let cell = |(k, text): (usize, &&str)| Cell { text: (*text).to_owned(), span: k..k + 1 };
        texts.iter().enumerate().map(cell).collect()
    }

    fn decide(numbers: &[&str]) -> Result<DecimalSign, String> {
        decide_beside(numbers, &[])
    }

    fn decide_beside(numbers: &[&str], others: &[&str]) -> Result<DecimalSign, String> {
        let mut errors = Vec::new();
        let sign = of(cells(numbers).iter(), cells(others).into_iter(), &mut errors);
        sign.ok_or_else(|| errors.iter().map(|error| error.message.clone()).collect())
    }

    #[test]
    fn one_comma_that_is_clear_decides_for_all() {
        for clear in
            ["4,56", "0,123", "4,5678", "1234,567", "4,560e-6", "4,560E−06", ",5", "4,56 µH"]
        {
            assert_eq!(decide(&["1,234", clear, "7"]), Ok(DecimalSign::Comma), "{clear}");
        }
        assert_eq!(decide(&["4.56", "1234", "5e-6"]), Ok(DecimalSign::Point));
        assert_eq!(decide(&["4.560"]), Ok(DecimalSign::Point), "a point is a decimal point");
        assert_eq!(decide(&[]), Ok(DecimalSign::Point));
    }

    #[test]
    fn columns_that_are_not_read_decide_where_no_other_does() {
        let open = ["29,711", "30,125"];
        assert_eq!(decide_beside(&open, &["T1", "151,67"]), Ok(DecimalSign::Comma));
        for others in [&["T1", "151,670"][..], &["151,67", "2.5"], &["lot 4,5"], &[]] {
            assert!(decide_beside(&open, others).is_err(), "{others:?}");
        }
        assert_eq!(decide_beside(&["29.711"], &["151,67"]), Ok(DecimalSign::Point));
    }

    #[test]
    fn what_nothing_tells_is_refused() {
        let told = decide(&["1,234", "5,678", "9"]).unwrap_err();
        assert_eq!(told, "`1,234` may be 1.234 or 1234");
        let told = decide(&["4,56", "4.57"]).unwrap_err();
        assert_eq!(told, "`4.57` has another decimal sign than `4,56` before it");
        for grouped in ["1.234,5", "1,234.5", "1,234,567", "1.234.567"] {
            assert!(decide(&[grouped]).unwrap_err().contains("more than one point or comma"));
        }
    }
}
