//! CSV text.

use anyhow::Context;

/// What a writer has gathered.
pub(in crate::report) fn text(writer: csv::Writer<Vec<u8>>) -> anyhow::Result<String> {
    let bytes = writer.into_inner().context("cannot assemble a CSV file")?;
    Ok(String::from_utf8(bytes)?)
}
