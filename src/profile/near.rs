//! Which known word a mistyped one was meant to be.

/// Longer words are not compared: none of ours is, and the cost grows with the square.
const LONGEST: usize = 24;

/// The candidate nearest to `word`, if it is near enough to be a slip of the hand: one in three
/// letters, at least one.
pub(crate) fn nearest<'a>(
    word: &str,
    candidates: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    let word: Vec<char> = word.to_lowercase().chars().take(LONGEST + 1).collect();
    if word.is_empty() || word.len() > LONGEST {
        return None;
    }
    let most = (word.len() / 3).max(1);
    candidates
        .into_iter()
        .map(|candidate| (distance(&word, candidate), candidate))
        .filter(|&(d, candidate)| d <= most && d < candidate.len())
        .min_by_key(|&(d, _)| d)
        .map(|(_, candidate)| candidate)
}

/// Letters to insert, delete, replace or swap with their neighbour (the optimal string alignment
/// distance).
fn distance(a: &[char], b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 0..a.len() {
        let mut row = vec![i + 1];
        for j in 0..b.len() {
            let replaced = last[j] + usize::from(a[i] != b[j]);
            let mut best = replaced.min(last[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && a[i] == b[j - 1] && a[i - 1] == b[j] {
                best = best.min(before[j - 1] + 1);
            }
            row.push(best);
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

/// `a`, `a or b`, `a, b or c`.
pub(super) fn either<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    let words: Vec<&str> = words.into_iter().collect();
    match words.split_last() {
        None => String::new(),
        Some((last, [])) => (*last).to_owned(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
    }
}

/// The same, and what to say if there is none.
pub(super) fn either_or<'a>(words: impl IntoIterator<Item = &'a str>, none: &str) -> String {
    let words = either(words);
    if words.is_empty() {
        none.to_owned()
    } else {
        words
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_found_and_other_words_are_not() {
        let keys = ["speed", "scale", "stop", "travel"];
        assert_eq!(nearest("sped", keys), Some("speed"));
        assert_eq!(nearest("sclae", keys), Some("scale"));
        assert_eq!(nearest("Travel", keys), Some("travel"));
        assert_eq!(nearest("colour", keys), None);
        assert_eq!(nearest("", keys), None);
        assert_eq!(nearest(&"x".repeat(1_000_000), keys), None);
    }

    #[test]
    fn lists_read_as_spoken() {
        assert_eq!(either([]), "");
        assert_eq!(either_or([], "nothing"), "nothing");
        assert_eq!(either_or(["a", "b"], "nothing"), "a or b");
        assert_eq!(either(["a"]), "a");
        assert_eq!(either(["a", "b", "c"]), "a, b or c");
    }
}
