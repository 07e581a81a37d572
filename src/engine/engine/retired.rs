//! What is out of use, until whoever may free memory takes it.

use alloc::boxed::Box;

/// Boxes out of use. One turn retires two of a kind at most: a change that waited and was replaced,
/// and the one that was in force.
#[derive(Clone, Debug)]
pub(super) struct Retired<T>([Option<Box<T>>; 2]);

impl<T> Default for Retired<T> {
    fn default() -> Retired<T> {
        Retired::NONE
    }
}

impl<T> Retired<T> {
    /// None.
    pub(super) const NONE: Retired<T> = Retired([None, None]);

    /// Keeps one. With nobody taking any, the oldest is freed here.
    pub(super) fn push(&mut self, one: Box<T>) {
        let [first, second] = &mut self.0;
        match (&first, &second) {
            (None, _) => *first = Some(one),
            (_, None) => *second = Some(one),
            (Some(_), Some(_)) => {
                *first = second.take();
                *second = Some(one);
            }
        }
    }

    /// The next one.
    pub(super) fn pop(&mut self) -> Option<Box<T>> {
        let [first, second] = &mut self.0;
        first.take().or_else(|| second.take())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_of_a_turn_are_both_handed_back() {
        let mut retired = Retired::NONE;
        assert_eq!(retired.pop(), None);
        retired.push(Box::new(1));
        retired.push(Box::new(2));
        assert_eq!(retired.pop(), Some(Box::new(1)));
        assert_eq!(retired.pop(), Some(Box::new(2)));
        assert_eq!(retired.pop(), None);
        for n in 3..6 {
            retired.push(Box::new(n));
        }
        assert_eq!(retired.pop(), Some(Box::new(4)));
        assert_eq!(retired.pop(), Some(Box::new(5)));
        assert_eq!(retired.pop(), None);
    }
}
