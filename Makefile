# Aliases of ./run, for fingers that type make.
.PHONY: demo test check
demo:
	./run demo
test:
	./run test
check:
	.ci/run
