//! What is kept of some of the samples, as bytes: written by one process, joined by another.
//!
//! Every tally hands its pieces over in one order, whether they are written or read. So nothing of the form is
//! written twice, and what does not fit is seen. The pieces follow each other in the wire format of the package
//! `postcard`, version 1: numbers of variable length, floating-point numbers bit by bit. Bytes are not trusted:
//! no count passes the number of samples, and no list takes more memory than the bytes that tell it, times a
//! small factor.

use std::ops::Range;

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::Distribution;

/// What is read is not what was kept of these samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("what it keeps of its samples is damaged, or is not of this scenario")]
pub struct StateError;

/// The tallies of consecutive samples on their way out, or on their way in to be joined with those of the
/// samples before them.
#[derive(Debug)]
pub struct TallyState<'a> {
    samples: Range<u64>,
    bytes: StateBytes<'a>,
}

#[derive(Debug)]
enum StateBytes<'a> {
    Written(Vec<u8>),
    Read(&'a [u8]),
}

impl<'a> TallyState<'a> {
    /// To be written: of samples with these numbers.
    pub const fn written(samples: Range<u64>) -> Self {
        Self { samples, bytes: StateBytes::Written(Vec::new()) }
    }

    /// To be joined: of samples with these numbers.
    pub const fn read(samples: Range<u64>, bytes: &'a [u8]) -> Self {
        Self { samples, bytes: StateBytes::Read(bytes) }
    }

    /// The numbers of the samples.
    pub const fn samples(&self) -> &Range<u64> {
        &self.samples
    }

    /// Writes a value; gives it where it is read.
    ///
    /// # Errors
    ///
    /// When there is no such value.
    pub fn value<T: Serialize + DeserializeOwned>(
        &mut self,
        own: &T,
    ) -> Result<Option<T>, StateError> {
        match &mut self.bytes {
            StateBytes::Written(bytes) => {
                let written = postcard::to_extend(own, std::mem::take(bytes));
                *bytes = written.map_err(|_| StateError)?;
                Ok(None)
            }
            StateBytes::Read(bytes) => {
                let (value, left) = postcard::take_from_bytes(bytes).map_err(|_| StateError)?;
                *bytes = left;
                Ok(Some(value))
            }
        }
    }

    /// A number of samples, which adds up.
    ///
    /// # Errors
    ///
    /// When it is larger than all of them.
    pub fn count(&mut self, own: &mut u64) -> Result<(), StateError> {
        if let Some(read) = self.value(own)? {
            if read > self.samples.end - self.samples.start {
                return Err(StateError);
            }
            *own = own.checked_add(read).ok_or(StateError)?;
        }
        Ok(())
    }

    /// The values of a figure.
    ///
    /// # Errors
    ///
    /// When they are not those of all samples, or of none.
    pub fn distribution(&mut self, own: &mut Distribution) -> Result<(), StateError> {
        if let Some(read) = self.value(&*own)? {
            if !own.accepts(&read, &self.samples) {
                return Err(StateError);
            }
            own.merge(&read);
        }
        Ok(())
    }

    /// Sums whose terms are rounded so that they are exact.
    ///
    /// # Errors
    ///
    /// When they are not so many, or no numbers.
    pub fn sums(&mut self, own: &mut [f64]) -> Result<(), StateError> {
        for own in own {
            if let Some(read) = self.value(&*own)? {
                *own += Some(read).filter(|read| read.is_finite()).ok_or(StateError)?;
            }
        }
        Ok(())
    }

    /// What is kept of the first `most` samples of all: so many entries of each.
    ///
    /// # Errors
    ///
    /// When they are not so many.
    pub fn of_first<T: Serialize + DeserializeOwned>(
        &mut self,
        own: &mut Vec<T>,
        most: u64,
        of_each: usize,
    ) -> Result<(), StateError> {
        let Range { start, end } = self.samples;
        if let Some(read) = self.value(&*own)? {
            let samples = end.min(most) - start.min(most);
            if Ok(read.len()) != usize::try_from(samples).map(|samples| samples * of_each) {
                return Err(StateError);
            }
            own.extend(read);
        }
        Ok(())
    }

    /// The bytes; none where they were read, to their last one.
    ///
    /// # Errors
    ///
    /// When some are left.
    pub fn finish(self) -> Result<Vec<u8>, StateError> {
        match self.bytes {
            StateBytes::Read(left) if !left.is_empty() => Err(StateError),
            StateBytes::Read(_) => Ok(Vec::new()),
            StateBytes::Written(bytes) => Ok(bytes),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn distribution(samples: Range<u64>, cap: usize) -> Distribution {
        let mut distribution = Distribution::exact_up_to(cap);
        for n in samples {
            let value = ((n * 617) % 1000) as f64 * 0.1 - 20.0;
            distribution.push(n, if n % 7 == 3 { f64::NAN } else { value });
        }
        distribution
    }

    fn bytes(samples: Range<u64>, cap: usize) -> Vec<u8> {
        let mut state = TallyState::written(samples.clone());
        state.distribution(&mut distribution(samples, cap)).unwrap();
        state.finish().unwrap()
    }

    /// One pass and parts of three give the same bytes, whether values are kept or counted.
    #[test]
    fn joined_parts_are_the_whole() {
        for cap in [0, 300, 5000] {
            let mut joined = Distribution::exact_up_to(cap);
            for part in [0..512, 512..640, 640..2000] {
                let bytes = bytes(part.clone(), cap);
                let mut state = TallyState::read(part, &bytes);
                state.distribution(&mut joined).unwrap();
                state.finish().unwrap();
            }
            let mut state = TallyState::written(0..2000);
            state.distribution(&mut joined).unwrap();
            assert_eq!(state.finish().unwrap(), bytes(0..2000, cap), "{cap}");
        }
    }

    /// No damaged byte is taken for a sound state of other counts, and none makes the reader panic.
    #[test]
    fn damaged_bytes_do_no_harm() {
        let samples = 128..400;
        for cap in [0, 2000] {
            let whole = bytes(samples.clone(), cap);
            for place in (0..whole.len()).step_by(3) {
                for change in [1_u8, 0x80, 0xff] {
                    let mut damaged = whole.clone();
                    damaged[place] ^= change;
                    let mut joined = distribution(0..128, cap);
                    let mut state = TallyState::read(samples.clone(), &damaged);
                    if state.distribution(&mut joined).is_ok() {
                        let taken = joined.moments().count() + joined.not_finite();
                        assert!([128, 400].contains(&taken), "{place}");
                        assert!(joined.ordered().is_some());
                    }
                }
                let mut state = TallyState::read(samples.clone(), &whole[..place]);
                assert!(state.distribution(&mut distribution(0..128, cap)).is_err(), "{place}");
            }
        }
    }

    #[test]
    fn counts_and_lists_of_other_sizes_are_refused() {
        let mut written = TallyState::written(0..10);
        written.count(&mut 11).unwrap();
        written.of_first(&mut vec![1.0; 6], 3, 2).unwrap();
        let bytes = written.finish().unwrap();
        let mut state = TallyState::read(0..10, &bytes);
        assert_eq!(state.count(&mut 0), Err(StateError), "more than all samples");
        let mut state = TallyState::read(0..11, &bytes);
        let (mut count, mut list) = (2, vec![0.5]);
        assert_eq!(state.count(&mut count), Ok(()));
        assert_eq!(state.of_first(&mut list, 3, 2), Ok(()));
        assert_eq!((count, list.len()), (13, 7));
        let mut state = TallyState::read(1..12, &bytes);
        assert_eq!(state.count(&mut count), Ok(()));
        assert_eq!(state.of_first(&mut list, 3, 2), Err(StateError), "two samples, not three");
        let left = TallyState::read(0..11, &bytes);
        assert_eq!(left.finish(), Err(StateError));
    }
}
