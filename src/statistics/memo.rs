//! The last results of a function that is often asked the same.

use std::cell::RefCell;
use std::thread::LocalKey;

/// So many results are kept, the newest first.
const KEPT: usize = 16;

/// Questions with their answers, the newest first.
pub(super) type Memo<Q, A> = RefCell<Vec<(Q, A)>>;

/// The answer kept, or `answer` of the question, which is then kept. `answer` may depend on nothing else.
pub(super) fn recalled<Q: PartialEq, A: Clone>(
    memo: &'static LocalKey<Memo<Q, A>>,
    question: Q,
    answer: impl FnOnce() -> A,
) -> A {
    let known = memo.with_borrow(|kept| {
        kept.iter().find(|(asked, _)| *asked == question).map(|(_, answer)| answer.clone())
    });
    known.unwrap_or_else(|| {
        let found = answer();
        memo.with_borrow_mut(|kept| {
            kept.truncate(KEPT - 1);
            kept.insert(0, (question, found.clone()));
        });
        found
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    thread_local! {
        static SQUARES: Memo<u64, u64> = const { RefCell::new(Vec::new()) };
    }

    #[test]
    fn what_was_asked_before_is_not_computed_again() {
        let mut computed = 0;
        let mut square = |n: u64| {
            recalled(&SQUARES, n, || {
                computed += 1;
                n * n
            })
        };
        assert_eq!([square(3), square(4), square(3)], [9, 16, 9]);
        for n in 10..40 {
            assert_eq!(square(n), n * n);
        }
        assert_eq!(square(3), 9, "forgotten meanwhile, and found again");
        assert_eq!(computed, 2 + 30 + 1);
    }
}
