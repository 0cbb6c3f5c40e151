/* SPDX-License-Identifier: MIT */
/* Which lines of Python followed which, counted while a function runs: what leads the host's fuzzer.
 *
 * A line is known by its function and its first instruction: its number would have to be looked for each time.
 * A map of counters, one a pair of lines (hashed), as fuzzers of machine code keep one a branch; a count that
 * falls into a class not seen before (1, 2, 3, 4.., 8.., 16.., 32.., 128..) is news. */
#define PY_SSIZE_T_CLEAN
#include <Python.h>
#include <frameobject.h>
#include <stdint.h>

#define SIZE (1U << 16)

static _Alignas(8) uint8_t counts[SIZE];
static uint8_t seen[SIZE];
static uint32_t before;
static unsigned long reached;

static int on_event(PyObject *self, PyFrameObject *frame, int what, PyObject *argument)
{
    (void)self;
    (void)argument;
    if (what != PyTrace_LINE)
        return 0;
    PyCodeObject *code = PyFrame_GetCode(frame);
    uint32_t here = (uint32_t)((uintptr_t)code >> 4) * 2654435761U ^ (uint32_t)PyFrame_GetLasti(frame) * 40503U;
    Py_DECREF(code);
    uint8_t *count = &counts[(here ^ before) & (SIZE - 1)];
    if (*count < 255)
        ++*count;
    before = here >> 1;
    return 0;
}

static uint8_t class_of(uint8_t count)
{
    static const uint8_t from[] = {128, 32, 16, 8, 4, 3, 2, 1};
    for (unsigned i = 0; i < sizeof from; i++)
        if (count >= from[i])
            return (uint8_t)(0x80 >> i);
    return 0;
}

static unsigned long news(void)
{
    unsigned long found = 0;
    for (unsigned i = 0; i < SIZE; i++) {
        uint64_t eight;
        if (i % 8 == 0 && (memcpy(&eight, &counts[i], 8), !eight))
            i += 7;
        if (!counts[i])
            continue;
        uint8_t class = class_of(counts[i]);
        if (!seen[i])
            reached++;
        if (!(seen[i] & class))
            found++;
        seen[i] |= class;
    }
    return found;
}

/* run(function, bytes) -> how many counters came into a new class; what the function raises is raised. */
static PyObject *run(PyObject *self, PyObject *arguments)
{
    PyObject *function, *data;
    (void)self;
    if (!PyArg_ParseTuple(arguments, "OS", &function, &data))
        return NULL;
    memset(counts, 0, sizeof counts);
    before = 0;
    PyEval_SetTrace(on_event, NULL);
    PyObject *result = PyObject_CallOneArg(function, data);
    PyEval_SetTrace(NULL, NULL);
    unsigned long found = news();
    if (!result)
        return NULL;
    Py_DECREF(result);
    return PyLong_FromUnsignedLong(found);
}

/* edges() -> pairs of lines reached so far. */
static PyObject *edges(PyObject *self, PyObject *none)
{
    (void)self;
    (void)none;
    return PyLong_FromUnsignedLong(reached);
}

/* forget(): nothing has been seen. */
static PyObject *forget(PyObject *self, PyObject *none)
{
    (void)self;
    (void)none;
    memset(seen, 0, sizeof seen);
    reached = 0;
    Py_RETURN_NONE;
}

static PyMethodDef methods[] = {{"run", run, METH_VARARGS, "run(function, bytes): news"}, {"edges", edges, METH_NOARGS, "edges(): reached"},
                                {"forget", forget, METH_NOARGS, "forget(): nothing has been seen"}, {0}};
static struct PyModuleDef module = {PyModuleDef_HEAD_INIT, .m_name = "edges", .m_size = -1, .m_methods = methods};

PyMODINIT_FUNC PyInit_edges(void)
{
    return PyModule_Create(&module);
}
