//! What the style sheet of pages makes of an element of a drawing, on a white ground: the values that a
//! drawing needs where no style sheet is.

use roxmltree::Node;
use simplecss::{AttributeOperator, Element, PseudoClass, Rule, StyleSheet};

use crate::report::format::page::STYLE;

/// Properties of CSS that are attributes of SVG too (SVG 1.1, section 6.1, but `paint-order`, SVG 2).
const DRAWN: [&str; 12] = [
    "fill",
    "fill-opacity",
    "stroke",
    "stroke-width",
    "stroke-opacity",
    "stroke-dasharray",
    "stroke-linecap",
    "stroke-linejoin",
    "paint-order",
    "opacity",
    "font-size",
    "font-weight",
];

/// Grounds of the page, which are white here.
const GROUNDS: [&str; 2] = ["--ground", "--sheet"];

/// The rules of the style sheet for a light screen, weakest first.
pub(super) struct LightStyle<'a> {
    rules: Vec<Rule<'a>>,
    variables: Vec<(&'a str, &'a str)>,
}

impl LightStyle<'static> {
    /// That of all pages.
    pub(super) fn new() -> Self {
        Self::of(STYLE)
    }
}

impl<'a> LightStyle<'a> {
    /// Of a style sheet that begins with its variables.
    fn of(text: &'a str) -> Self {
        let block = text.split_once('{').and_then(|(_, rest)| rest.split_once('}'));
        let declared = block.map_or("", |(inside, _)| inside).split(';');
        let variables = declared.filter_map(|line| line.split_once(':'));
        let variables = variables.map(|(name, value)| (name.trim(), value.trim())).collect();
        // At-rules, for dark screens, paper and narrow pages, are not read.
        Self { rules: StyleSheet::parse(text).rules, variables }
    }

    /// The value of a property, its variables resolved.
    pub(super) fn value(&self, node: Node<'_, '_>, property: &str) -> Option<String> {
        let rules = self.rules.iter().rev();
        let matching = rules.filter(|rule| rule.selector.matches(&PageElement(node)));
        let mut declared = matching.flat_map(|rule| rule.declarations.iter().rev());
        declared.find(|own| own.name == property).map(|own| self.resolved(own.value))
    }

    /// Properties of a drawing that the style sheet sets.
    pub(super) fn drawn(&self, node: Node<'_, '_>) -> Vec<(&'static str, String)> {
        let mut found: Vec<(&'static str, String)> = Vec::new();
        for rule in self.rules.iter().filter(|rule| rule.selector.matches(&PageElement(node))) {
            for own in &rule.declarations {
                let Some(property) = DRAWN.iter().find(|name| **name == own.name) else { continue };
                found.retain(|(name, _)| name != property);
                found.push((*property, self.resolved(own.value)));
            }
        }
        found
    }

    /// A colour of the style sheet by its variable.
    pub(super) fn colour(&self, variable: &str) -> String {
        self.resolved(&format!("var({variable})"))
    }

    fn resolved(&self, value: &str) -> String {
        let all = self.variables.iter().map(|(name, value)| {
            (format!("var({name})"), if GROUNDS.contains(name) { "#ffffff" } else { *value })
        });
        let value = all.fold(value.to_owned(), |value, (name, is)| value.replace(&name, is));
        value.strip_suffix("px").map_or_else(|| value.clone(), str::to_owned)
    }
}

/// An element of a page, for selectors.
struct PageElement<'a, 'input>(Node<'a, 'input>);

impl Element for PageElement<'_, '_> {
    fn parent_element(&self) -> Option<Self> {
        self.0.parent_element().map(PageElement)
    }

    fn prev_sibling_element(&self) -> Option<Self> {
        self.0.prev_sibling_element().map(PageElement)
    }

    fn has_local_name(&self, name: &str) -> bool {
        self.0.has_tag_name(name)
    }

    fn attribute_matches(&self, name: &str, operator: AttributeOperator<'_>) -> bool {
        self.0.attribute(name).is_some_and(|value| operator.matches(value))
    }

    fn pseudo_class_matches(&self, class: PseudoClass<'_>) -> bool {
        matches!(class, PseudoClass::FirstChild) && self.prev_sibling_element().is_none()
    }
}

#[cfg(test)]
mod tests {
    use roxmltree::Document;

    use super::*;

    /// Cascading Style Sheets 2.1, section 6.4.1: the more specific rule wins, then the later one.
    #[test]
    fn the_strongest_rule_gives_the_value() {
        let style = LightStyle::of(
            ":root { --ink: #123456; --ground: #eee; }\n\
             @media screen and (prefers-color-scheme: dark) { :root { --ink: #fff; } .a { fill: red } }\n\
             .brief .a { fill: var(--ink); stroke-width: 2px }\n.a { fill: blue; stroke: var(--ground) }\n\
             .a { margin: 0; stroke-dasharray: 1 2 }",
        );
        let tree = Document::parse("<p class=\"brief\"><b class=\"c a\"/></p>").unwrap();
        let inner = tree.root_element().first_element_child().unwrap();
        let mut found = style.drawn(inner);
        found.sort();
        let expected = [
            ("fill", "#123456"),
            ("stroke", "#ffffff"),
            ("stroke-dasharray", "1 2"),
            ("stroke-width", "2"),
        ];
        assert_eq!(found, expected.map(|(name, value)| (name, value.to_owned())));
        assert_eq!(style.value(inner, "margin").as_deref(), Some("0"));
        assert_eq!(style.drawn(tree.root_element()), []);
    }

    /// No value of the pages' own style is left to what a drawing does not have.
    #[test]
    fn every_value_of_the_pages_is_resolved() {
        let style = LightStyle::new();
        assert!(style.variables.len() > 10 && style.colour("--chain").starts_with('#'));
        let declared = style.rules.iter().flat_map(|rule| &rule.declarations);
        let drawn: Vec<String> = declared
            .filter(|own| DRAWN.contains(&own.name))
            .map(|own| style.resolved(own.value))
            .collect();
        assert!(
            drawn.len() > 100 && drawn.iter().all(|value| !value.contains("var(")),
            "{drawn:?}"
        );
    }
}
