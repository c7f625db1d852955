//! Operating points of which nothing is told.

/// That the nominal converter does not deliver some operating points with the scenario's flying capacitors; none
/// where it delivers all.
pub(super) fn undelivered(points: &[String]) -> Option<String> {
    let names: Vec<String> = points.iter().map(|name| format!("“{name}”")).collect();
    let them = if names.len() == 1 { "it" } else { "them" };
    (!names.is_empty()).then(|| {
        format!(
            "With the scenario’s flying capacitors the nominal converter does not deliver {}: nothing is known of \
             {them}.",
            names.join(", ")
        )
    })
}
