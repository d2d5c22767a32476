//! Which cases are meant: patterns of ids.

/// Whether an id matches a pattern: `*` stands for any text, `?` for any one letter.
#[must_use]
pub fn matches(pattern: &str, id: &str) -> bool {
    let (pattern, id): (Vec<char>, Vec<char>) = (pattern.chars().collect(), id.chars().collect());
    let (mut at, mut from) = (0, 0);
    // Where the last star stands, and how much of the id it covers so far.
    let mut star: Option<(usize, usize)> = None;
    while from < id.len() {
        match pattern.get(at) {
            Some('*') => {
                star = Some((at, from));
                at += 1;
            }
            Some(letter) if *letter == '?' || *letter == id[from] => {
                at += 1;
                from += 1;
            }
            _ => match star {
                Some((place, covered)) => {
                    star = Some((place, covered + 1));
                    at = place + 1;
                    from = covered + 1;
                }
                None => return false,
            },
        }
    }
    pattern[at..].iter().all(|letter| *letter == '*')
}

/// Whether a case is meant: by one of `only` (or by none given), and by none of `skip`.
#[must_use]
pub fn is_meant(id: &str, only: &[String], skip: &[String]) -> bool {
    let any = |patterns: &[String]| patterns.iter().any(|pattern| matches(pattern, id));
    (only.is_empty() || any(only)) && !any(skip)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stars_and_question_marks() {
        for (pattern, id, is_match) in [
            ("W7.3/window", "W7.3/window", true),
            ("W7.3/*", "W7.3/window", true),
            ("W7.3/*", "W7.4/window", false),
            ("*window", "W7.3/window", true),
            ("W7.?/w*d*", "W7.3/window", true),
            ("W7.?/w*x*", "W7.3/window", false),
            ("*", "", true),
            ("?", "", false),
            ("", "a", false),
            ("**a**", "bab", true),
            ("W7.3", "W7.3/window", false),
        ] {
            assert_eq!(matches(pattern, id), is_match, "{pattern} {id}");
        }
    }

    #[test]
    fn skipping_comes_after_choosing() {
        let list = |texts: &[&str]| -> Vec<String> {
            texts.iter().map(|text| (*text).to_owned()).collect()
        };
        assert!(is_meant("W1.1/a", &[], &[]));
        assert!(is_meant("W1.1/a", &list(&["W2*", "W1*"]), &[]));
        assert!(!is_meant("W1.1/a", &list(&["W2*"]), &[]));
        assert!(!is_meant("W1.1/a", &list(&["W1*"]), &list(&["*/a"])));
    }
}
