//! Numbers of things in words.

/// A number of things, such as '1 capture' or '3 captures'; `one` is the word for one of them, which takes an s for more.
#[must_use]
pub fn counted(n: usize, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_one() {
        assert_eq!([0, 1, 2].map(|n| counted(n, "trace")), ["0 traces", "1 trace", "2 traces"]);
    }
}
