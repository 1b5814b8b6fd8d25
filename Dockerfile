# One image for web and worker. Written and checked as text only: nobody has built it yet.
FROM python:3.11-slim-bookworm

RUN apt-get update \
    && apt-get install -y --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 \
    && rm -rf /var/lib/apt/lists/* \
    && useradd --create-home --uid 10001 vaslab

WORKDIR /home/vaslab/house
COPY requirements.lock requirements-tools.lock ./
RUN pip install --no-cache-dir --require-hashes -r requirements-tools.lock \
    && uv pip sync --system --no-cache --compile-bytecode --require-hashes requirements.lock

COPY --chown=root:root . .
RUN install -d -o vaslab -g vaslab -m 700 /data
USER vaslab
ENV VASLAB_DATA_DIR=/data PYTHONUNBUFFERED=1
VOLUME /data
EXPOSE 8000
CMD ["gunicorn", "--bind", "0.0.0.0:8000"]
