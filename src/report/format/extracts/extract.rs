//! A file that is made of a page, and its name.

/// Most letters of the words in a file's name.
const LETTERS: usize = 56;

/// What is in a file, and the words that tell it apart from others.
pub(super) struct Extract {
    pub(super) words: String,
    pub(super) content: String,
}

/// Names with numbers that sort as the page has them.
pub(super) fn numbered(
    kind: &'static str,
    ending: &'static str,
    all: Vec<Extract>,
) -> impl Iterator<Item = (String, String)> {
    let digits = all.len().to_string().len().max(2);
    all.into_iter().enumerate().map(move |(n, extract)| {
        (format!("{kind}-{:0digits$}-{}.{ending}", n + 1, slug(&extract.words)), extract.content)
    })
}

/// Words as a part of a file's name: letters a to z and digits, cut at the end of a word.
fn slug(words: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let plain: String = words.chars().map(plain).collect();
    let mut slug = String::new();
    for word in plain.split('-').filter(|word| !word.is_empty()) {
        let longer = if slug.is_empty() { word.to_owned() } else { format!("{slug}-{word}") };
        if longer.len() > LETTERS {
            break;
        }
        slug = longer;
    }
    if slug.is_empty() { "untitled".to_owned() } else { slug }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_hold_plain_letters_alone() {
        assert_eq!(slug("Yield of „full load“, 5 µH"), "yield-of-full-load-5-h");
        assert_eq!(slug("../../etc/passwd\u{202e}"), "etc-passwd");
        assert_eq!(slug("日本"), "untitled");
        assert!(slug(&"word ".repeat(30)).len() <= LETTERS);
        assert_eq!(slug(&"x".repeat(200)), "untitled");
    }

    #[test]
    fn numbers_sort_as_the_page_has_them() {
        let extract = || Extract { words: "a".into(), content: String::new() };
        let names = |number: usize| {
            let all = (0..number).map(|_| extract()).collect();
            numbered("figure", "svg", all).map(|(name, _)| name).collect::<Vec<_>>()
        };
        assert_eq!(names(2), ["figure-01-a.svg", "figure-02-a.svg"]);
        assert_eq!(names(100)[99], "figure-100-a.svg");
        assert!(names(100).is_sorted());
    }
}
