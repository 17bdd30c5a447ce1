/* Times how long ecCodes takes to unpack the first field of each file named,
 * from memory, into an array that is already there. Prints one line a file:
 * nanoseconds of processor time (the median of seven runs of at least 50 ms)
 * and the file.
 * The handle is made beforehand, so that only the unpacking counts. */
#include <eccodes.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { RUNS = 7 };

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return t.tv_sec * 1e9 + t.tv_nsec;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double measure(codes_handle *h, double *values, size_t n)
{
    double runs[RUNS];
    for (int i = 0; i < RUNS; i++) {
        int times = 0;
        double start = now(), spent;
        do {
            size_t got = n;
            if (codes_get_double_array(h, "values", values, &got) != 0 || got != n)
                return -1;
            times++;
            spent = now() - start;
        } while (spent < 50e6);
        runs[i] = spent / times;
    }
    qsort(runs, RUNS, sizeof runs[0], by_size);
    return runs[RUNS / 2];
}

int main(int argc, char **argv)
{
    for (int i = 1; i < argc; i++) {
        FILE *f = fopen(argv[i], "rb");
        if (!f) {
            perror(argv[i]);
            return 1;
        }
        int err = 0;
        codes_handle *h = codes_handle_new_from_file(NULL, f, PRODUCT_GRIB, &err);
        fclose(f);
        size_t n = 0;
        if (!h || codes_get_size(h, "values", &n) != 0) {
            fprintf(stderr, "%s: ecCodes cannot read it\n", argv[i]);
            return 1;
        }
        double *values = malloc(n * sizeof *values);
        double ns = values ? measure(h, values, n) : -1;
        free(values);
        codes_handle_delete(h);
        if (ns < 0) {
            fprintf(stderr, "%s: ecCodes cannot unpack it\n", argv[i]);
            return 1;
        }
        printf("%.0f %s\n", ns, argv[i]);
        fflush(stdout);
    }
    return 0;
}
