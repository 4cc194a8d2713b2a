//! Automation of one block.

use vst3::Steinberg::Vst::{
    IParamValueQueue, IParamValueQueueTrait, IParameterChanges, IParameterChangesTrait, ParamID, ParamValue,
};
use vst3::Steinberg::{kInvalidArgument, kResultFalse, kResultOk, tresult};
use vst3::{Class, ComWrapper};

/// The points of one parameter in one block.
struct Points {
    parameter: ParamID,
    points: Vec<(i32, ParamValue)>,
}

impl Class for Points {
    type Interfaces = (IParamValueQueue,);
}

impl IParamValueQueueTrait for Points {
    unsafe fn getParameterId(&self) -> ParamID {
        self.parameter
    }

    unsafe fn getPointCount(&self) -> i32 {
        i32::try_from(self.points.len()).unwrap_or(i32::MAX)
    }

    unsafe fn getPoint(&self, index: i32, frame: *mut i32, value: *mut ParamValue) -> tresult {
        let point = usize::try_from(index).ok().and_then(|index| self.points.get(index));
        let Some(&point) = point else { return kInvalidArgument };
        // SAFETY: both pointers are the caller's own.
        unsafe {
            frame.write(point.0);
            value.write(point.1);
        }
        kResultOk
    }

    unsafe fn addPoint(&self, _: i32, _: ParamValue, _: *mut i32) -> tresult {
        kResultFalse
    }
}

/// All points of one block: for the plug-in, or empty to take the plug-in's.
pub(super) struct Changes {
    queues: Vec<ComWrapper<Points>>,
}

impl Class for Changes {
    type Interfaces = (IParameterChanges,);
}

impl Changes {
    /// The changes of a block: frame, parameter, value from 0 to 1; sorted by frame for each parameter.
    pub(super) fn new(changes: &[(i32, ParamID, ParamValue)]) -> ComWrapper<Self> {
        let mut queues: Vec<Points> = Vec::new();
        for &(frame, parameter, value) in changes {
            match queues.iter_mut().find(|queue| queue.parameter == parameter) {
                Some(queue) => queue.points.push((frame, value)),
                None => queues.push(Points { parameter, points: vec![(frame, value)] }),
            }
        }
        ComWrapper::new(Self { queues: queues.into_iter().map(ComWrapper::new).collect() })
    }
}

impl IParameterChangesTrait for Changes {
    unsafe fn getParameterCount(&self) -> i32 {
        i32::try_from(self.queues.len()).unwrap_or(i32::MAX)
    }

    unsafe fn getParameterData(&self, index: i32) -> *mut IParamValueQueue {
        let queue = usize::try_from(index).ok().and_then(|index| self.queues.get(index));
        queue.and_then(|queue| queue.as_com_ref()).map_or(std::ptr::null_mut(), |queue| queue.as_ptr())
    }

    unsafe fn addParameterData(&self, _: *const ParamID, _: *mut i32) -> *mut IParamValueQueue {
        std::ptr::null_mut()
    }
}
