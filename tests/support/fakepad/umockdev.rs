//! The few functions of libumockdev that are needed, found when the helper process runs: tests
//! build without its development package.

use std::ffi::{CStr, CString, c_char, c_int, c_void};
use std::path::{Path, PathBuf};
use std::ptr;

type Object = *mut c_void;

#[repr(C)]
struct GError {
    domain: u32,
    code: c_int,
    message: *const c_char,
}

type LoadFn = extern "C" fn(Object, *const c_char, *const c_char, *mut *mut GError) -> c_int;
type AddFn = extern "C" fn(Object, *const c_char, *mut *mut GError) -> c_int;

/// A made-up /sys and /dev; removed when dropped.
pub struct Testbed {
    object: Object,
    library: *mut c_void,
}

impl Testbed {
    pub fn new() -> Testbed {
        // SAFETY: loading the library runs its constructors, which expect nothing of us.
        let library = unsafe { libc::dlopen(c"libumockdev.so.0".as_ptr(), libc::RTLD_NOW) };
        assert!(!library.is_null(), "install Debian's package umockdev");
        let mut testbed = Testbed {
            object: ptr::null_mut(),
            library,
        };
        let new: extern "C" fn() -> Object =
            unsafe { std::mem::transmute(testbed.symbol(c"umockdev_testbed_new")) };
        testbed.object = new();
        testbed
    }

    pub fn root(&self) -> PathBuf {
        let root: extern "C" fn(Object) -> *const c_char =
            unsafe { std::mem::transmute(self.symbol(c"umockdev_testbed_get_root_dir")) };
        // SAFETY: the library returns a string that lives as long as the testbed.
        let path = unsafe { CStr::from_ptr(root(self.object)) };
        PathBuf::from(path.to_str().expect("a plain path"))
    }

    /// Answers ioctls on `node` from a record file; before the device is added.
    pub fn load_ioctls(&self, node: &str, record: &Path) {
        let load: LoadFn =
            unsafe { std::mem::transmute(self.symbol(c"umockdev_testbed_load_ioctl")) };
        let (node, record) = (text(node), text(record.to_str().expect("a plain path")));
        let mut error = ptr::null_mut();
        let loaded = load(self.object, node.as_ptr(), record.as_ptr(), &mut error);
        check(loaded, error);
    }

    /// Adds devices and sends their messages.
    pub fn add(&self, description: &str) {
        let add: AddFn =
            unsafe { std::mem::transmute(self.symbol(c"umockdev_testbed_add_from_string")) };
        let mut error = ptr::null_mut();
        let added = add(self.object, text(description).as_ptr(), &mut error);
        check(added, error);
    }

    /// Sends a message about a device (its path begins with /sys).
    pub fn uevent(&self, device: &str, action: &str) {
        let uevent: extern "C" fn(Object, *const c_char, *const c_char) =
            unsafe { std::mem::transmute(self.symbol(c"umockdev_testbed_uevent")) };
        uevent(self.object, text(device).as_ptr(), text(action).as_ptr());
    }

    /// Removes a device without a message.
    pub fn remove(&self, device: &str) {
        let remove: extern "C" fn(Object, *const c_char) =
            unsafe { std::mem::transmute(self.symbol(c"umockdev_testbed_remove_device")) };
        remove(self.object, text(device).as_ptr());
    }

    /// SAFETY of the callers' transmutes: the signatures are those of umockdev's public header.
    fn symbol(&self, name: &CStr) -> *mut c_void {
        // SAFETY: the library stays loaded.
        let symbol = unsafe { libc::dlsym(self.library, name.as_ptr()) };
        assert!(!symbol.is_null(), "libumockdev lacks {name:?}");
        symbol
    }
}

impl Drop for Testbed {
    fn drop(&mut self) {
        // Found through libumockdev, which depends on it.
        let unref: extern "C" fn(Object) =
            unsafe { std::mem::transmute(self.symbol(c"g_object_unref")) };
        unref(self.object);
    }
}

fn text(text: &str) -> CString {
    CString::new(text).expect("no zero byte inside")
}

fn check(done: c_int, error: *mut GError) {
    if done == 0 || !error.is_null() {
        // SAFETY: a set error points to a message that lives until it is freed, which it never is.
        let message = (!error.is_null()).then(|| unsafe { CStr::from_ptr((*error).message) });
        panic!("umockdev: {message:?}");
    }
}
