//! The format's stream interface over the bytes of a state.

use std::ffi::c_void;
use std::sync::Mutex;
use vst3::Steinberg::{
    IBStream, IBStream_::IStreamSeekMode_, IBStreamTrait, kInvalidArgument, kResultOk, tresult,
};
use vst3::{Class, ComPtr, ComWrapper};

/// A stream in memory that limits the bytes of each read, as file and network streams may.
pub(super) struct Stream {
    inner: Mutex<Inner>,
    most_at_once: usize,
}

struct Inner {
    bytes: Vec<u8>,
    at: usize,
}

impl Class for Stream {
    type Interfaces = (IBStream,);
}

impl Stream {
    /// A stream over `bytes`, at its start.
    pub(super) fn new(bytes: Vec<u8>, most_at_once: usize) -> ComWrapper<Self> {
        ComWrapper::new(Self { inner: Mutex::new(Inner { bytes, at: 0 }), most_at_once })
    }

    /// The stream as an interface for the plug-in.
    pub(super) fn given(stream: &ComWrapper<Self>) -> ComPtr<IBStream> {
        stream.to_com_ptr().expect("a stream is one")
    }

    /// Its content.
    pub(super) fn bytes(&self) -> Vec<u8> {
        self.inner.lock().expect("no reader panics").bytes.clone()
    }

    /// Goes back to the start.
    pub(super) fn rewind(&self) {
        self.inner.lock().expect("no reader panics").at = 0;
    }
}

impl IBStreamTrait for Stream {
    unsafe fn read(&self, buffer: *mut c_void, wanted: i32, read: *mut i32) -> tresult {
        let (Ok(wanted), false) = (usize::try_from(wanted), buffer.is_null()) else {
            return kInvalidArgument;
        };
        let mut inner = self.inner.lock().expect("no reader panics");
        let from = inner.at.min(inner.bytes.len());
        let length = wanted.min(self.most_at_once).min(inner.bytes.len() - from);
        // SAFETY: the caller's buffer has `wanted` bytes, and `length` exceeds neither that nor the content.
        unsafe { std::ptr::copy_nonoverlapping(inner.bytes[from..].as_ptr(), buffer.cast(), length) };
        inner.at = from + length;
        answer(read, i32::try_from(length).unwrap_or(i32::MAX))
    }

    unsafe fn write(&self, buffer: *mut c_void, length: i32, written: *mut i32) -> tresult {
        let (Ok(length), false) = (usize::try_from(length), buffer.is_null()) else {
            return kInvalidArgument;
        };
        let length = length.min(self.most_at_once);
        // SAFETY: the caller passes at least `length` bytes.
        let bytes = unsafe { std::slice::from_raw_parts(buffer.cast::<u8>(), length) };
        let mut inner = self.inner.lock().expect("no reader panics");
        let (from, to) = (inner.at, inner.at + length);
        if inner.bytes.len() < to {
            inner.bytes.resize(to, 0);
        }
        inner.bytes[from..to].copy_from_slice(bytes);
        inner.at = to;
        answer(written, i32::try_from(length).unwrap_or(i32::MAX))
    }

    unsafe fn seek(&self, position: i64, mode: i32, result: *mut i64) -> tresult {
        let mut inner = self.inner.lock().expect("no reader panics");
        let from = match mode.cast_unsigned() {
            IStreamSeekMode_::kIBSeekCur => inner.at,
            IStreamSeekMode_::kIBSeekEnd => inner.bytes.len(),
            _ => 0,
        };
        let to = i64::try_from(from).unwrap_or(i64::MAX).saturating_add(position);
        let Ok(at) = usize::try_from(to) else { return kInvalidArgument };
        inner.at = at;
        answer(result, to)
    }

    unsafe fn tell(&self, position: *mut i64) -> tresult {
        let at = self.inner.lock().expect("no reader panics").at;
        answer(position, i64::try_from(at).unwrap_or(i64::MAX))
    }
}

/// Writes an answer to the caller's variable, if there is one.
fn answer<T>(place: *mut T, value: T) -> tresult {
    if !place.is_null() {
        // SAFETY: the format requires a null or the caller's own variable.
        unsafe { place.write(value) };
    }
    kResultOk
}
