import { parentPort } from 'node:worker_threads';
import { type Job, playJob } from './job.ts';

/** One of the bench's threads: plays one job after the other. */
parentPort?.on('message', (job: Job) => parentPort?.postMessage(playJob(job)));
