/* Loaded before every other library: counts what one thread asks of the C library and of the kernel between two calls.
   Allocation is counted by standing in front of the C library's functions, system calls by a per-thread switch of the
   kernel (Linux 5.11, PR_SET_SYSCALL_USER_DISPATCH), which sends a signal instead of making the call. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <pthread.h>
#include <signal.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/ucontext.h>

static __thread int watched;
static __thread uint64_t allocations, locks, system_calls, last_system_call;
static __thread volatile char selector;

enum { ALLOW = 0, BLOCK = 1 };

#define IN_FRONT_OF(type, name, parameters, arguments, counter)          \
  type name parameters {                                                 \
    static type (*next) parameters;                                      \
    if (!next) next = (type (*) parameters)dlsym(RTLD_NEXT, #name);      \
    if (watched) counter++;                                              \
    return next arguments;                                               \
  }

/* The C library's own names of its allocator: dlsym allocates before `next` is known. */
extern void *__libc_malloc(size_t), *__libc_calloc(size_t, size_t), *__libc_realloc(void *, size_t);
extern void *__libc_memalign(size_t, size_t);
extern void __libc_free(void *);

void *malloc(size_t size) {
  if (watched) allocations++;
  return __libc_malloc(size);
}
void *calloc(size_t count, size_t size) {
  if (watched) allocations++;
  return __libc_calloc(count, size);
}
void *realloc(void *old, size_t size) {
  if (watched) allocations++;
  return __libc_realloc(old, size);
}
void free(void *old) {
  if (watched && old) allocations++;
  __libc_free(old);
}
void *memalign(size_t alignment, size_t size) {
  if (watched) allocations++;
  return __libc_memalign(alignment, size);
}
void *aligned_alloc(size_t alignment, size_t size) { return memalign(alignment, size); }
int posix_memalign(void **out, size_t alignment, size_t size) {
  *out = memalign(alignment, size);
  return *out ? 0 : 12;
}

IN_FRONT_OF(int, pthread_mutex_lock, (pthread_mutex_t * lock), (lock), locks)
IN_FRONT_OF(int, pthread_mutex_trylock, (pthread_mutex_t * lock), (lock), locks)
IN_FRONT_OF(int, pthread_rwlock_rdlock, (pthread_rwlock_t * lock), (lock), locks)
IN_FRONT_OF(int, pthread_rwlock_wrlock, (pthread_rwlock_t * lock), (lock), locks)

static void trapped(int number, siginfo_t *info, void *context) {
  (void)number;
  selector = ALLOW;
  system_calls++;
  last_system_call = (uint64_t)info->si_syscall;
  (void)context;
}

/* Begins to watch the calling thread. Returns 0, or -1 if the kernel cannot. */
int watch_begin(void) {
  static __thread int prepared;
  if (!prepared) {
    struct sigaction action;
    memset(&action, 0, sizeof action);
    action.sa_sigaction = trapped;
    action.sa_flags = SA_SIGINFO;
    if (sigaction(SIGSYS, &action, NULL)) return -1;
    if (prctl(PR_SET_SYSCALL_USER_DISPATCH, PR_SYS_DISPATCH_ON, 0, 0, &selector)) return -1;
    /* Every name is looked up once outside a watch. */
    pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
    pthread_mutex_lock(&lock);
    pthread_mutex_unlock(&lock);
    pthread_mutex_trylock(&lock);
    pthread_mutex_unlock(&lock);
    prepared = 1;
  }
  watched = 1;
  selector = BLOCK;
  return 0;
}

void watch_end(void) {
  selector = ALLOW;
  watched = 0;
}

/* Allocations, locks, system calls and the number of the last one, of the calling thread so far. */
void watch_counts(uint64_t counts[4]) {
  counts[0] = allocations;
  counts[1] = locks;
  counts[2] = system_calls;
  counts[3] = last_system_call;
}
