//! Texts with something in common, told together.

/// A text, and what it may have in common with others.
pub(super) struct GroupedText {
    pub text: String,
    pub common: String,
}

/// Texts with something in common.
pub(super) struct CommonGroup {
    pub common: String,
    pub texts: Vec<String>,
}

/// Texts by what they have in common, in the order of its first appearance.
pub(super) fn groups(parts: Vec<GroupedText>) -> Vec<CommonGroup> {
    let mut groups: Vec<CommonGroup> = Vec::new();
    for GroupedText { text, common } in parts {
        match groups.iter_mut().find(|group| group.common == common) {
            Some(group) => group.texts.push(text),
            None => groups.push(CommonGroup { common, texts: vec![text] }),
        }
    }
    groups
}
